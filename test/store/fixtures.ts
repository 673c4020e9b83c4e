/** Invented archives for the store's tests. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { RawTrace } from '../../src-shared/domain/capture.ts'
import { MEASURE_IDS, type MeasureId } from '../../src-shared/domain/measures.ts'
import { DEFAULT_PLAN, type SweepPlan, sweepPlanSchema } from '../../src-shared/domain/plan.ts'
import { DEFAULT_RECIPE, recipeHash } from '../../src-shared/domain/recipe.ts'
import { newReadingSchema, type NewReading } from '../../src-shared/domain/reading.ts'
import { ALGORITHM, type Flag, type FlagId, type Landmarks, type Result } from '../../src-shared/domain/result.ts'
import { seededRandom } from '../../src-shared/domain/seeded-random.ts'
import { captureFilterSchema, type CaptureFilter } from '../../src-shared/domain/views.ts'
import type { NewCapture } from '../../src-shared/domain/stored.ts'
import type { Log, Store } from '../../src-main/core/ports.ts'
import { openStore } from '../../src-main/store/store.ts'
import { createStoreWorker } from '../support/workers.ts'

export const HASH = recipeHash(DEFAULT_RECIPE)
export const PLAN: SweepPlan = sweepPlanSchema.parse({ ...DEFAULT_PLAN, levels: [0, 128, 255] })

export function temporaryFolder(): { path: string; remove: () => void } {
  const path = mkdtempSync(join(tmpdir(), 'slewlight-store-'))
  return {
    path,
    remove: () => {
      rmSync(path, { recursive: true, force: true })
    },
  }
}

export interface Logged {
  readonly level: 'info' | 'warn' | 'error'
  readonly message: string
}

export function collectingLog(): Log & { entries: Logged[] } {
  const entries: Logged[] = []
  return {
    entries,
    info: (message) => entries.push({ level: 'info', message }),
    warn: (message) => entries.push({ level: 'warn', message }),
    error: (message) => entries.push({ level: 'error', message }),
  }
}

let ticks = 0
/** Every reading is one second later than the one before. */
export const clock = { iso: (): string => new Date(Date.UTC(2030, 0, 1) + 1000 * ticks++).toISOString() }

export function openTestStore(path: string, log: Log = collectingLog(), algorithm = ALGORITHM): Promise<Store> {
  return openStore({ path, createWorker: createStoreWorker, clock, log, algorithm })
}

export function testTrace(seed: number, count = 1000, format: RawTrace['format'] = 'int16'): RawTrace {
  const next = seededRandom(seed)
  const samples = format === 'int16' ? new Int16Array(count) : new Float32Array(count)
  for (let i = 0; i < count; i++) {
    const step = i < count / 4 ? 4000 : 20000
    samples[i] = format === 'int16' ? step + Math.floor(200 * next()) : step / 6553.6 + 0.01 * next()
  }
  return {
    format,
    samples,
    sampleRateHz: 50_000,
    scaleV: format === 'int16' ? 5 / 32768 : 1,
    offsetV: 0,
    rangeV: 5,
  }
}

export function testCapture(sweepId: number, position: number, change: Partial<NewCapture> = {}): NewCapture {
  return {
    sweepId,
    from: 0,
    to: 128,
    repeat: 1,
    attempt: 1,
    position,
    takenAt: '2030-01-01T00:00:00.000Z',
    verdict: 'good',
    trace: testTrace(position),
    triggerIndex: 250,
    source: 'invented rig',
    frameLog: {
      source: 'controller',
      frameMs: 16.7,
      switchMs: 100.1,
      dropped: false,
    },
    ...change,
  }
}

const LANDMARKS: Landmarks = {
  beforeWindow: [0, 0.004],
  afterWindow: [0.015, 0.02],
  beforeV: 0.61,
  afterV: 3.05,
  onsetS: 0.005,
  crossLowS: 0.0051,
  crossMidS: 0.0053,
  crossHighS: 0.0057,
  arrivalAtS: 0.006,
  settledAtS: 0.0061,
  overshootAtS: null,
  overshootV: null,
  undershootAtS: null,
  undershootV: null,
  startBandV: [0.5, 0.7],
  endBandV: [2.9, 3.1],
  referenceLowV: 0.85,
  referenceHighV: 2.8,
}

export function testFlag(id: FlagId, change: Partial<Flag> = {}): Flag {
  return { id, evidence: `Invented evidence of ${id}.`, value: 3, limit: 2, unit: '1', span: [10, 20], ...change }
}

export function testResult(
  values: Partial<Record<MeasureId, number | null>> = {},
  flags: readonly Flag[] = [],
  hash = HASH,
  algorithm = ALGORITHM,
): Result {
  const all = Object.fromEntries(MEASURE_IDS.map((id, i) => [id, i + 0.5])) as Record<MeasureId, number | null>
  return {
    recipeHash: hash,
    algorithm,
    values: { ...all, overshoot_code: null, ...values },
    reasons: { overshoot_code: 'No ladder was measured.' },
    uncertainties: { transition_duration_s: 1.5e-5 },
    common: { transition_duration_s: 0.5e-5 },
    landmarks: LANDMARKS,
    flags,
  }
}

export async function testSweep(store: Store, total = 10): Promise<{ campaignId: number; sweepId: number }> {
  const campaign = await store.createCampaign({ name: 'Invented', display: 'Panel A', note: '' })
  const sweep = await store.createSweep({
    campaignId: campaign.id,
    plan: PLAN,
    origin: 'simulated',
    rigIdentity: 'invented rig',
    total,
  })
  return { campaignId: campaign.id, sweepId: sweep.id }
}

export function filter(change: Partial<CaptureFilter> = {}): CaptureFilter {
  return captureFilterSchema.parse({ recipeHash: HASH, ...change })
}

export function testReading(campaignId: number, change: Partial<NewReading> = {}): NewReading {
  return newReadingSchema.parse({
    campaignId,
    kind: 'luminance',
    quantity: 'white, centre',
    unit: 'cd/m²',
    value: 251.5,
    u: 4,
    source: 'invented meter',
    at: '2030-01-02T10:00:00+01:00',
    ...change,
  })
}
