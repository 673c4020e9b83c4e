import type { CaptureInfo, RawTrace, Sweep } from '#shared/domain/capture.ts'
import { MEASURE_IDS, type MeasureId } from '#shared/domain/measures.ts'
import { DEFAULT_PLAN, sweepPlanSchema } from '#shared/domain/plan.ts'
import { DEFAULT_RECIPE, recipeHash, type Recipe } from '#shared/domain/recipe.ts'
import { ALGORITHM, type Result } from '#shared/domain/result.ts'
import type { CaptureRow, MatrixData, ReviewEntry } from '#shared/domain/views.ts'
import type { Store } from '#main/core/ports.ts'

export const HASH = recipeHash(DEFAULT_RECIPE)

export const RECIPE: Recipe = { ...DEFAULT_RECIPE, name: 'Mine, "quoted"\nand – long' }

export function result(values: Partial<Record<MeasureId, number>>, more: Partial<Result> = {}): Result {
  return {
    recipeHash: HASH,
    algorithm: ALGORITHM,
    values: Object.fromEntries(MEASURE_IDS.map((id) => [id, values[id] ?? null])) as Result['values'],
    reasons: { overshoot_code: 'There is no ladder, "none"; really.' },
    uncertainties: {},
    landmarks: {} as Result['landmarks'],
    flags: [],
    ...more,
  }
}

export interface FakeCapture {
  readonly info: CaptureInfo
  readonly trace: RawTrace
  readonly result: Result | null
  readonly reviews: readonly ReviewEntry[]
  readonly note?: string
}

const standingOf = (reviews: readonly ReviewEntry[]): ReviewEntry | undefined =>
  reviews.findLast((review) => !review.undone)
const isOverridden = (reviews: readonly ReviewEntry[]): boolean => standingOf(reviews)?.decision === 'override'

export function capture(id: number, trace: RawTrace, more: Partial<CaptureInfo> = {}): FakeCapture['info'] {
  return {
    id,
    sweepId: 3,
    from: 0,
    to: 255,
    repeat: 1,
    attempt: 1,
    position: id - 1,
    takenAt: '2026-01-02T03:04:05.678Z',
    verdict: 'good',
    sampleCount: trace.samples.length,
    sampleRateHz: trace.sampleRateHz,
    triggerIndex: 0,
    source: 'Invented, rig',
    frameLog: null,
    ...more,
  }
}

/** The part of the archive that exports read, out of plain objects. */
export function fakeStore(captures: readonly FakeCapture[], data: MatrixData | null = null): Store {
  const sweep: Sweep = {
    id: 3,
    campaignId: 1,
    runId: null,
    name: '',
    setting: 'Gentle, +2',
    refreshHz: 143.9,
    plan: sweepPlanSchema.parse({
      ...DEFAULT_PLAN,
      levels: [0, 255],
      repeats: 3,
      setting: 'Gentle, +2',
      refreshHz: 143.9,
    }),
    state: 'finished',
    reason: '',
    origin: 'simulated',
    createdAt: '2026-01-02T03:04:05.678Z',
    rigIdentity: 'Invented',
    ladder: null,
    total: captures.length,
    done: captures.length,
    missing: 0,
    hidden: false,
  }
  const one = (id: number): FakeCapture => captures.find(({ info }) => info.id === id) as FakeCapture
  const parts: Partial<Store> = {
    sweep: async () => sweep,
    recipes: async () => [{ hash: HASH, recipe: RECIPE }],
    campaigns: async () => [
      { id: 1, name: 'Bench; one', display: 'Invented display', note: '', createdAt: '', origin: 'simulated' },
    ],
    captures: async ({ offset, limit }) => ({
      total: captures.length,
      rows: captures.slice(offset, offset + limit).map(({ info, result, reviews, note }): CaptureRow => ({
        info,
        flags: result?.flags.map(({ id }) => id) ?? [],
        review: standingOf(reviews)?.decision ?? null,
        overridden: isOverridden(reviews),
        noted: note !== undefined,
        superseded: false,
        values: result?.values ?? null,
      })),
    }),
    capture: async (id) => one(id).info,
    trace: async (id) => one(id).trace,
    result: async (id) => one(id).result,
    detail: async ({ captureId: id }) => {
      const { info, result, reviews, note } = one(id)
      return {
        info,
        result,
        ownResult: null,
        overridden: isOverridden(reviews),
        supersededBy: null,
        reviews,
        note: note === undefined ? null : { id: 9, captureId: id, text: note, reviewer: 'R', at: '', undone: false },
      }
    },
    matrix: async () => data as MatrixData,
  }
  return parts as Store
}
