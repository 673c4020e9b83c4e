import { evidenceFiles } from '#main/core/campaign/evidence.ts'
import { EXTRACT } from '#main/core/campaign/extract.ts'
import { demoLatency } from '#main/core/demo/latency.ts'
import { demoReadings } from '#main/core/demo/readings.ts'
import { createPublisher } from '#main/publish/publisher.ts'
import { DEFAULT_LIMITS } from '#shared/findings/campaign/figures.ts'
import { measuredPoint } from '#shared/findings/campaign/points.ts'
import { matrixOfResults } from '#shared/findings/matrix-of-results.ts'
import type { BundleCapture, BundleExtra, BundleSubject } from '#shared/domain/bundle.ts'
import type { LatencyEvent, LatencyRun } from '#shared/domain/latency.ts'
import type { NewReading } from '#shared/domain/reading.ts'
import { latencyReading } from '#shared/latency/reading.ts'
import { seededRandom } from '#shared/domain/seeded-random.ts'
import { DEFAULT_RECIPE, recipeHash } from '#shared/domain/recipe.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'

/** An invented campaign of two sweeps: first-order steps with a little noise, digitised at 12 bits. */
export const SUBJECT: BundleSubject = {
  display: 'Invented display A',
  campaign: 'Invented campaign',
  invented: true,
  recipe: DEFAULT_RECIPE,
  recipeHash: recipeHash(DEFAULT_RECIPE),
  version: '0.0.0-test',
  sweeps: [1, 2].map((id) => ({
    id,
    setting: id === 1 ? 'Gentle' : 'Strong',
    refreshHz: 60,
    edgeAtTrigger: true,
    levels: [0, 255],
    repeats: 3,
    missing: 0,
    rigIdentity: 'Invented rig',
    createdAt: '2031-04-05T14:00:00.000Z',
    ladder: null,
  })),
}

export function inventedCaptures(perSweep = 6): BundleCapture[] {
  const random = seededRandom(11)
  return SUBJECT.sweeps.flatMap((sweep) =>
    Array.from({ length: perSweep }, (_, i): BundleCapture => {
      const captureId = (sweep.id - 1) * perSweep + i + 1
      const rise = i % 2 === 0
      const samples = Int16Array.from({ length: 3000 }, (__, k) => {
        const t = (k - 600) / 20_000
        const done = t < 0 ? 0 : 1 - Math.exp(-t / (0.002 * sweep.id))
        const light = rise ? done : 1 - done
        return Math.round((0.2 + 0.6 * light + 0.002 * (random() - 0.5)) * 32768)
      })
      const trace = {
        format: 'int16',
        samples,
        sampleRateHz: 20_000,
        scaleV: 1 / 32768,
        offsetV: 0,
        rangeV: 1,
      } as const
      const [from, to] = rise ? [0, 255] : [255, 0]
      const result = measureCapture({
        trace,
        triggerIndex: 600,
        from,
        to,
        refreshHz: sweep.refreshHz,
        ladder: null,
        recipe: SUBJECT.recipe,
        edgeAtTrigger: true,
        override: null,
      })
      return {
        captureId,
        sweepId: sweep.id,
        from,
        to,
        repeat: 1 + (i >> 1),
        attempt: 1,
        verdict: 'good',
        takenAt: '2031-04-05T14:00:00.000Z',
        excluded: false,
        trace,
        triggerIndex: 600,
        override: null,
        result,
      }
    }),
  )
}

const TAKEN_AT = '2031-04-05T14:00:00.000Z'

/** Two invented runs of input latency, and the readings made of them, whose numbers are 1 and 2. */
export async function inventedLatency(): Promise<{
  readonly runs: readonly LatencyRun[]
  readonly events: readonly LatencyEvent[]
  readonly readings: readonly NewReading[]
}> {
  const made = demoLatency(20).map(({ plan, events }, i) => {
    const run = { id: i + 1, campaignId: 1, plan, rigIdentity: 'Invented rig', startedAt: TAKEN_AT }
    return { run: { ...run, events: plan.events, readingId: i + 1 }, events: events(i + 1, TAKEN_AT) }
  })
  const readings = await Promise.all(made.map(({ run, events }) => latencyReading(run, events)))
  return {
    runs: made.map(({ run }) => run),
    events: made.flatMap(({ events }) => events),
    readings: readings.filter((reading) => reading !== null),
  }
}

/** Findings, report and figures of the captures, as the program makes them; with a display's record where asked for. */
export async function inventedEvidence(
  captures: readonly BundleCapture[],
  { record = false, more = [] }: { readonly record?: boolean; readonly more?: readonly NewReading[] } = {},
): Promise<BundleExtra[]> {
  const { display, campaign: name, recipe, recipeHash: hash, version, sweeps } = SUBJECT
  const byId = new Map(captures.map((capture) => [capture.captureId, capture]))
  const entered = record ? demoReadings(1, 'complete', '2031-04-05T14:00:00.000Z') : []
  const readings = [...more, ...entered].map((reading, i) => ({
    ...reading,
    id: i + 1,
    addedAt: reading.at,
    hidden: false,
  }))
  const content = {
    readings,
    campaign: { display, name, note: '', origin: 'simulated' as const },
    sweeps: sweeps.map((sweep) => {
      const own = captures.flatMap(({ result, override, ...capture }) =>
        capture.sweepId === sweep.id && result !== null
          ? [{ ...capture, result, overridden: override !== null, flagCount: result.flags.length }]
          : [],
      )
      const matrix = matrixOfResults({ sweepId: sweep.id, recipeHash: hash, levels: sweep.levels }, own)
      const { id: sweepId, setting, refreshHz } = sweep
      return { sweep, matrix, point: measuredPoint({ sweepId, setting, refreshHz }, matrix, recipe) }
    }),
  }
  const drawn = await evidenceFiles(
    {
      inputs: async (ids) => ids.flatMap((id) => byId.get(id) ?? []),
      result: async (id) => byId.get(id)?.result ?? null,
    },
    createPublisher(),
    {
      content,
      recipe,
      recipeHash: hash,
      limits: DEFAULT_LIMITS,
      weighting: 'equal',
      pixelsPerS: 960,
      version,
    },
    sweeps,
  )
  const extract: BundleExtra = {
    path: EXTRACT,
    name: 'Extract of the archive: plans, reviews, readings, log',
    encodingFormat: 'application/json',
    bytes: new TextEncoder().encode(JSON.stringify({ readings })),
  }
  return readings.length > 0 ? [...drawn, extract] : drawn
}

export async function* streamed<T>(items: readonly T[]): AsyncGenerator<T> {
  yield* items
}
