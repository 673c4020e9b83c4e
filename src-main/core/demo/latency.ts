/** Invented runs of input latency with the raw record of every event, measured as those of a rig are. */
import { latencyPlanSchema, type LatencyEvent, type LatencyPlan } from '#shared/domain/latency.ts'
import { seededRandom } from '#shared/domain/seeded-random.ts'
import { latencyReading } from '#shared/latency/reading.ts'
import type { Store } from '../ports.ts'

const EVENTS = 120
const REFRESH_HZ = 144
const RATE_HZ = 20_000
/** Full scale of a code in a range of 5 V. */
const SCALE_V = 5 / 32_768

/** Host, own delay and time constant of the light, s. */
interface Chain {
  readonly hostS: number
  readonly ownS: number
  readonly tauS: number
}
const DISPLAY: Chain = { hostS: 0.0023, ownS: 0.0034, tauS: 0.002 }
const REFERENCE: Chain = { hostS: 0.0023, ownS: 0, tauS: 0.00005 }

export interface DemoLatency {
  readonly plan: LatencyPlan
  readonly events: (runId: number, at: string) => readonly LatencyEvent[]
}

/** A run on the display and one on a light at the host's output. */
export const demoLatency = (events = EVENTS): readonly DemoLatency[] =>
  (
    [
      [DISPLAY, false],
      [REFERENCE, true],
    ] as const
  ).map(([chain, reference]) => {
    const plan = latencyPlanSchema.parse({
      refreshHz: REFRESH_HZ,
      events,
      reference,
      sampleRateHz: RATE_HZ,
      afterS: 0.06,
      seed: reference ? 42 : 41,
    })
    return { plan, events: (runId, at) => eventsOfRun(runId, plan, chain, at) }
  })

/** Stores both with the readings made of them. */
export async function fillLatency(store: Store, campaignId: number, rigIdentity: string, at: string): Promise<void> {
  for (const { plan, events: made } of demoLatency()) {
    const run = await store.createLatencyRun({ campaignId, plan, rigIdentity })
    const events = made(run.id, at)
    for (const event of events) await store.addLatencyEvent(event)
    const reading = await latencyReading(run, events)
    if (reading === null) continue
    const { id: readingId } = await store.addReading(reading)
    await store.endLatencyRun({ runId: run.id, readingId })
  }
}

function eventsOfRun(runId: number, plan: LatencyPlan, { hostS, ownS, tauS }: Chain, at: string): LatencyEvent[] {
  const random = seededRandom(plan.seed)
  const before = Math.round(plan.beforeS * RATE_HZ)
  const length = before + Math.round(plan.afterS * RATE_HZ)
  return Array.from({ length: plan.events }, (_, i): LatencyEvent => {
    // Input is polled every millisecond; the wait for the frame is even over one.
    const lightS = hostS + 0.001 * random() + random() / REFRESH_HZ + ownS
    const samples = Int16Array.from({ length }, (__, k) => {
      const t = (k - before) / RATE_HZ - lightS
      const light = t <= 0 ? 0 : 1 - Math.exp(-t / tauS)
      return Math.round((0.02 + 3.2 * light) / SCALE_V + 24 * (random() + random() - 1))
    })
    return {
      runId,
      position: i + 1,
      takenAt: at,
      trace: { format: 'int16', samples, sampleRateHz: RATE_HZ, scaleV: SCALE_V, offsetV: 0, rangeV: 5 },
      triggerIndex: before,
      second: null,
      handlerMs: 0.4 + 0.3 * random(),
    }
  })
}
