/**
 * Display minus reference through the simulated rig's bytes, the same display standing for both: the truth is 0. On a
 * clock that jumps, so that a run of minutes takes a second.
 */
import type { Hub } from '#main/core/hub.ts'
import { createJobs } from '#main/core/jobs.ts'
import { createLatencyRuns } from '#main/core/latency.ts'
import type { Clock, Log, Store } from '#main/core/ports.ts'
import { createRig } from '#main/rig/api/rig-manager.ts'
import { createSimulatedRigs } from '#main/rig/simulated/simulated-rigs.ts'
import { createSimulatedStimulus } from '#main/stimulus/simulated.ts'
import { latencyPlanSchema, type LatencyEvent, type LatencyRun } from '#shared/domain/latency.ts'
import type { NewReading, Reading } from '#shared/domain/reading.ts'
import { simulationSchema, type Simulation } from '#shared/domain/rig.ts'
import { latencyPart, type LatencyPart } from '#shared/record/latency-part.ts'

const SILENT: Log = { info: () => undefined, warn: () => undefined, error: () => undefined }

export interface RigComparison {
  /** Takes a run on the display and one on the reference, or all three blocks, and answers what they say. */
  compare(seed: number): Promise<LatencyPart>
  close(): Promise<void>
}

export async function rigComparison(
  clock: Clock,
  simulation: Partial<Simulation>,
  plan: { refreshHz: number; events: number; interleave: boolean },
  bytesPerSecond: number | null = null,
): Promise<RigComparison> {
  const rigs = createSimulatedRigs(clock, { bytesPerSecond })
  const rig = createRig({
    clock,
    log: SILENT,
    openSimulated: rigs.open,
    openSerial: () => Promise.reject(new Error('no serial port here')),
    listSerialPorts: async () => [],
  })
  const stimulus = createSimulatedStimulus(rigs)
  let [runs, events, readings]: [LatencyRun[], LatencyEvent[], Reading[]] = [[], [], []]
  const store = {
    createLatencyRun: async (run: LatencyRun) => {
      const made = { ...run, id: runs.length + 1, startedAt: clock.iso(), events: 0, readingId: null }
      runs.push(made)
      return made
    },
    addLatencyEvent: async (event: LatencyEvent) => {
      events.push(event)
      return null
    },
    latencyEvents: async ({ runId, from, limit }: { runId: number; from: number; limit: number }) =>
      events.filter((event) => event.runId === runId && event.position >= from).slice(0, limit),
    addReading: async (reading: NewReading) => {
      const made = { ...reading, id: readings.length + 1, addedAt: clock.iso(), hidden: false }
      readings.push(made)
      return made
    },
    endLatencyRun: async () => null,
  } as unknown as Store
  const hub = { job: () => undefined, emit: () => undefined } as unknown as Hub
  const jobs = createJobs(hub, clock)
  const latency = createLatencyRuns({ store, rig, stimulus, clock, hub, jobs })
  await rig.connect({ kind: 'simulated', simulation: simulationSchema.parse(simulation) })
  async function take(seed: number, reference: boolean): Promise<void> {
    const id = latency.start(
      1,
      latencyPlanSchema.parse({ ...plan, seed, reference, sampleRateHz: 10_000, beforeS: 0.005, afterS: 0.08 }),
      'Invented',
    )
    while (latency.running()) {
      try {
        jobs.proceed(id)
      } catch {
        // Nothing is asked at the moment.
      }
      // oxlint-disable-next-line no-await-in-loop
      await new Promise((resolve) => setImmediate(resolve))
    }
    const { state, failure } = jobs.outcome(id)
    if (state !== 'finished') throw new Error(failure?.message ?? state)
  }
  return {
    async compare(seed) {
      ;[runs, events, readings] = [[], [], []]
      await take(seed, false)
      if (!plan.interleave) await take(seed, true)
      return latencyPart(readings)
    },
    async close() {
      await rig.disconnect()
      await jobs.close()
    },
  }
}
