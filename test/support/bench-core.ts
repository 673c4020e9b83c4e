/**
 * The whole host on the simulated rig and a temporary archive, as the program composes it. Its clock jumps from event to
 * event, so that nothing depends on the machine's speed, and stands while the archive's thread works.
 */
import { createExporter } from '#main/export/exporter.ts'
import { createPublisher } from '#main/publish/publisher.ts'
import { mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { createCore } from '#main/core/core.ts'
import type { Analyzer, Clock, Log, Meters, ReactingStimulus, Rig, Store } from '#main/core/ports.ts'
import { createClock } from '#main/platform/clock.ts'
import { createStaging } from '#main/platform/staging.ts'
import { createRig } from '#main/rig/api/rig-manager.ts'
import { createSimulatedRigs, type SimulatedRigs } from '#main/rig/simulated/simulated-rigs.ts'
import { createStimulusRouter } from '#main/stimulus/router.ts'
import { createSimulatedStimulus } from '#main/stimulus/simulated.ts'
import { openStore } from '#main/store/store.ts'
import { DEFAULT_PLAN, sweepPlanSchema, type SweepPlan, type SweepPlanInput } from '#shared/domain/plan.ts'
import { simulationSchema, type Simulation } from '#shared/domain/rig.ts'
import type { HostEvent, HostState } from '#shared/domain/views.ts'
import { measureLight } from '#shared/measure/light.ts'
import { measureCapture, uncertaintyTerms } from '#shared/measure/measure-capture.ts'
import { jumpingClock } from './jumping-clock.ts'
import { libraryWith } from './library.ts'
import { createStoreWorker } from './workers.ts'
import { draw } from '#shared/measure/pictures.ts'

export const SILENT: Log = { info: () => undefined, warn: () => undefined, error: () => undefined }

/** Measures where it is called, one after the other. */
export const IN_THREAD: Analyzer = {
  measure: async (input) => measureCapture(input),
  measureMany: async (inputs) => inputs.map((input) => ({ result: measureCapture(input) })),
  causes: async (input) => uncertaintyTerms(input),
  light: async (input) => measureLight(input),
  picture: async (kind, request) => draw(kind, request),
  concurrency: 1,
  close: async () => undefined,
}

export interface BenchCore {
  readonly core: Awaited<ReturnType<typeof createCore>>
  readonly store: Store
  readonly rig: Rig
  readonly clock: Clock
  readonly simulated: SimulatedRigs
  readonly folder: string
  readonly archive: string
  readonly events: HostEvent[]
  state(): HostState
  /** Creates a campaign and a sweep of the plan; answers with the sweep's id. */
  plan(change?: Partial<SweepPlanInput>): Promise<number>
  until(condition: (state: HostState) => boolean, what: string, timeoutS?: number): Promise<void>
  close(): Promise<void>
}

export function planOf(change: Partial<SweepPlanInput> = {}): SweepPlan {
  return sweepPlanSchema.parse({ ...DEFAULT_PLAN, levels: [0, 128, 255], repeats: 2, sampleRateHz: 20_000, ...change })
}

function preceded(store: Store, before: (name: string) => Promise<void> | void): Store {
  return new Proxy(store, {
    get(target, name) {
      const member: unknown = Reflect.get(target, name)
      if (typeof member !== 'function') return member
      return async (...parameters: unknown[]): Promise<unknown> => {
        await before(String(name))
        return Reflect.apply(member, target, parameters) as Promise<unknown>
      }
    },
  })
}

export async function openBenchCore(
  options: {
    /** Instead of a clock that jumps, the machine's at this rate. */
    speed?: number
    simulation?: Partial<Simulation>
    archive?: string
    wrapStimulus?: (stimulus: ReactingStimulus) => ReactingStimulus
    /** Runs before each operation of the archive; what it throws is what the operation rejects with. */
    beforeOperation?: (name: string) => Promise<void> | void
    analyzer?: Partial<Analyzer>
    meters?: Meters
  } = {},
): Promise<BenchCore> {
  const folder = options.archive ? '' : await mkdtemp(join(tmpdir(), 'slewlight-'))
  const archive = options.archive ?? join(folder, 'bench.slewlight')
  const jumping = options.speed === undefined ? jumpingClock() : null
  const clock = jumping?.clock ?? createClock(options.speed)
  const log = SILENT
  const rigs = createSimulatedRigs(clock)
  const rig = createRig({
    clock,
    log,
    openSimulated: rigs.open,
    openSerial: () => Promise.reject(new Error('no serial port here')),
    listSerialPorts: async () => [],
  })
  const opened = await openStore({ path: archive, createWorker: createStoreWorker, clock, log })
  const watched = jumping?.watched(opened) ?? opened
  const store = options.beforeOperation === undefined ? watched : preceded(watched, options.beforeOperation)
  const simulated = createSimulatedStimulus(rigs)
  const shown = options.wrapStimulus?.(simulated) ?? simulated
  const analyzer: Analyzer = {
    ...IN_THREAD,
    ...options.analyzer,
  }
  const core = await createCore({
    publisher: createPublisher(),
    store,
    rig,
    stimulus: createStimulusRouter({ simulated: shown, page: simulated }, 'simulated', simulated.simulatedMenu),
    analyzer,
    ...(options.meters === undefined ? {} : { meters: options.meters }),
    library: libraryWith(analyzer),
    exporter: createExporter(store),
    staging: createStaging({ clock, maxFileBytes: 2 ** 24, maxBytes: 2 ** 26, staleS: 3600 }),
    clock,
    log,
    version: '0.0.0',
    host: 'server',
  })
  const events: HostEvent[] = []
  const release = core.system.watch((event) => events.push(event))
  await core.rig.connect({ kind: 'simulated', simulation: simulationSchema.parse(options.simulation ?? {}) })
  const state = (): HostState => core.system.state()
  return {
    core,
    store,
    rig,
    clock,
    simulated: rigs,
    folder,
    archive,
    events,
    state,
    async plan(change) {
      const campaign = await core.campaigns.create({ name: 'Invented campaign', display: 'Invented display', note: '' })
      return (await core.sweeps.create({ campaignId: campaign.id, plan: planOf(change) })).id
    },
    until: (condition, what, timeoutS = 60) =>
      new Promise((resolve, reject) => {
        if (condition(state())) return resolve()
        const timer = setTimeout(() => {
          stop()
          reject(
            new Error(`${what} did not happen within ${timeoutS} s; the sweep is ${JSON.stringify(state().sweep)}`),
          )
        }, timeoutS * 1000)
        const stop = core.system.watch(() => {
          if (!condition(state())) return
          clearTimeout(timer)
          stop()
          resolve()
        })
      }),
    async close() {
      release()
      await core.close()
      jumping?.stop()
      if (folder) await rm(folder, { recursive: true, force: true })
    },
  }
}
