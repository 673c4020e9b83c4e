/** The use cases behind every way in: desktop window, loopback server and command line. */
import type { RawTrace } from '#shared/domain/capture.ts'
import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import { ALGORITHM } from '#shared/domain/result.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import { walkOf } from '#shared/domain/walk.ts'
import { envelopeOf } from '#shared/signal/envelope.ts'
import { conditionedTrace, measureCapture } from '#shared/measure/measure-capture.ts'
import { groupFlags } from '#shared/measure/group-flags.ts'
import type { Core } from './facade.ts'
import { createHub } from './hub.ts'
import { commitImport, previewImport } from './import.ts'
import { createJobs } from './jobs.ts'
import { createLive } from './live.ts'
import { measureInputOf } from './measure-input.ts'
import { createMonitor } from './monitor.ts'
import { checkPlan } from './plan-check.ts'
import type { Analyzer, Clock, Exporter, Log, Rig, StimulusRouter, Store } from './ports.ts'
import { reanalyse } from './reanalyse.ts'
import { openRecipeBook } from './recipes.ts'
import { createSweeper } from './sweeper.ts'

export interface CoreDeps {
  readonly store: Store
  readonly rig: Rig
  readonly stimulus: StimulusRouter
  readonly analyzer: Analyzer
  readonly exporter: Exporter
  readonly clock: Clock
  readonly log: Log
  readonly version: string
  readonly host: 'desktop' | 'server'
}

export async function createCore(deps: CoreDeps): Promise<Core & { sweepIdle(): Promise<void> }> {
  const { store, rig, stimulus, clock, log, analyzer, exporter } = deps
  const recipes = await openRecipeBook(store)
  const hub = createHub({ rig, stimulus, store, log, recipeHash: recipes.currentHash(), warningAcknowledged: false })
  const live = createLive()
  const monitor = createMonitor({ rig, clock, live, hub })
  const jobs = createJobs(hub)

  /** Sweep captures are stored whatever happens to their analysis: a failing measurement becomes a capture without result. */
  const sweeper = createSweeper({
    store,
    rig,
    stimulus,
    clock,
    live,
    hub,
    measure: measureCapture,
    recipe: () => recipes.current(),
    afterRun: (sweepId) => compareCaptures(sweepId, recipes.currentHash()),
  })
  await sweeper.recover()

  /** Flags that only show when captures of one sweep are put side by side. */
  async function compareCaptures(sweepId: number, recipeHash: string): Promise<void> {
    await store.setGroupFlags(sweepId, recipeHash, groupFlags(await store.comparison(sweepId, recipeHash)))
    hub.emit({ kind: 'changed', what: 'results' })
  }

  async function inputOf(captureId: number, recipeHash: string): Promise<MeasureInput> {
    const info = await store.capture(captureId)
    const [sweep, trace] = await Promise.all([store.sweep(info.sweepId), store.trace(captureId)])
    return measureInputOf(info, sweep, trace, recipes.get(recipeHash))
  }

  const settled = async (work: Promise<unknown> | void): Promise<ReturnType<typeof hub.state>> => {
    await work
    return hub.state()
  }

  return {
    system: {
      info: async () => {
        const { path, captures, bytes } = await store.info()
        return {
          version: deps.version,
          host: deps.host,
          archivePath: path,
          captures,
          archiveBytes: bytes,
          algorithm: ALGORITHM,
        }
      },
      state: () => hub.state(),
      watch: (listener) => hub.watch(listener),
      log: ({ sweepId, afterId, limit }) =>
        store.events({
          limit,
          ...(sweepId === undefined ? {} : { sweepId }),
          ...(afterId === undefined ? {} : { afterId }),
        }),
      acknowledgeWarning: async () => {
        hub.patch({ warningAcknowledged: true })
        return hub.state()
      },
    },
    rig: {
      ports: () => rig.ports(),
      connect: async (target, signal) => {
        refuseWhileSweeping()
        await monitor.stop()
        try {
          await rig.connect(target, signal)
          await hub.note('info', `The rig is connected: ${identityText(rig.state().identity)}.`)
        } catch (error) {
          await hub.note('error', `The rig could not be connected: ${toErrorDetail(error).message}`)
          throw error
        }
        return hub.state()
      },
      disconnect: async () => {
        refuseWhileSweeping()
        await monitor.stop()
        return settled(rig.disconnect())
      },
      inject: ({ fault }) => settled(rig.inject(fault)),
      monitor: async ({ on }) => {
        if (!on) return settled(monitor.stop())
        refuseWhileSweeping()
        rig.digitizer()
        monitor.start()
        return hub.state()
      },
      live: async ({ since, columns }) => live.view(since, columns),
    },
    stimulus: {
      use: async ({ kind }) => {
        refuseWhileSweeping()
        stimulus.use(kind)
        return hub.state()
      },
    },
    campaigns: {
      list: () => store.campaigns(),
      create: async (input) => {
        const campaign = await store.createCampaign({ ...input, invented: rig.state().target?.kind === 'simulated' })
        hub.emit({ kind: 'changed', what: 'campaigns' })
        return campaign
      },
    },
    sweeps: {
      list: ({ campaignId }) => store.sweeps(campaignId),
      get: ({ sweepId }) => store.sweep(sweepId),
      check: async ({ plan }) => checkPlan(plan),
      create: async ({ campaignId, plan }) => {
        const identity = rig.state().identity
        if (!identity)
          throw new AppError('rig-absent', 'No rig is connected.', 'Connect a rig first; the sweep keeps its identity.')
        const sweep = await store.createSweep({
          campaignId,
          plan,
          origin: 'rig',
          rigIdentity: identityText(identity),
          total: walkOf(plan).length,
        })
        hub.emit({ kind: 'changed', what: 'sweeps' })
        return sweep
      },
      start: ({ sweepId }) => startSweep(sweepId),
      pause: ({ sweepId }) => settled(sweeper.pause(sweepId)),
      resume: ({ sweepId }) => startSweep(sweepId),
      stop: ({ sweepId }) => settled(sweeper.stop(sweepId)),
      matrix: ({ sweepId, recipeHash, measures }) => store.matrix(sweepId, recipeHash, measures),
    },
    captures: {
      list: (filter) => store.captures(filter),
      get: async ({ captureId, recipeHash }) => {
        const [info, result, reviews] = await Promise.all([
          store.capture(captureId),
          store.result(captureId, recipeHash),
          store.reviews(captureId),
        ])
        return { info, result, reviews }
      },
      trace: async ({ captureId, recipeHash, columns, fromS, toS }) => {
        const [info, input] = await Promise.all([store.capture(captureId), inputOf(captureId, recipeHash)])
        const { trace } = input
        const [start, end] = [fromS ?? 0, toS ?? trace.samples.length / trace.sampleRateHz]
        if (!(end > start))
          throw new AppError(
            'invalid-input',
            'The end of the span lies before its start.',
            'Ask for a span with an end after its start.',
          )
        const conditioned = input.recipe.condition.kind === 'none' ? null : conditionedTrace(input)
        return {
          info,
          refreshHz: input.refreshHz ?? 0,
          rangeV: trace.rangeV,
          raw: envelopeOf(trace, start, end, columns),
          conditioned: conditioned && envelopeOf(asVolts(conditioned, trace), start, end, columns),
        }
      },
    },
    recipes: {
      list: async () => recipes.list(),
      save: async (recipe) => {
        const saved = await recipes.save(recipe)
        hub.emit({ kind: 'changed', what: 'recipes' })
        return saved
      },
      use: async ({ recipeHash }) => {
        recipes.use(recipeHash)
        hub.patch({ recipeHash })
        return hub.state()
      },
      preview: async ({ captureId, recipe }) =>
        measureCapture({ ...(await inputOf(captureId, recipes.currentHash())), recipe }),
      reanalyse: async ({ recipeHash, campaignId, sweepId }) => {
        const recipe = recipes.get(recipeHash)
        const jobId = jobs.start('reanalyse', `Measuring under “${recipe.name}”`, async (report, signal) => {
          const scope = {
            ...(campaignId === undefined ? {} : { campaignId }),
            ...(sweepId === undefined ? {} : { sweepId }),
          }
          await reanalyse({
            store,
            analyzer,
            clock,
            recipe,
            scope,
            signal,
            onProgress: (p) => report(p.done, p.total, p.leftS),
          })
          const touched = sweepId === undefined ? (await store.sweeps(campaignId)).map((sweep) => sweep.id) : [sweepId]
          for (const id of touched) await compareCaptures(id, recipeHash)
          await hub.note('info', `Every capture is measured under “${recipe.name}”.`)
        })
        return { jobId }
      },
      cancelJob: async ({ jobId }) => settled(jobs.cancel(jobId)),
    },
    reviews: {
      add: async (review) => announceReview(await store.addReview(review)),
      undo: async () => announceReview(await store.undoReview()),
      redo: async () => announceReview(await store.redoReview()),
    },
    files: {
      importPreview: async ({ name, text, mapping }) => previewImport(clock, name, text, mapping),
      importCommit: async (input, signal) => {
        const summary = await commitImport(
          { store, clock, recipe: recipes.current(), measure: measureCapture },
          input,
          signal,
        )
        hub.emit({ kind: 'changed', what: 'sweeps' })
        await compareCaptures(summary.sweepId, recipes.currentHash())
        return summary
      },
      exportCsv: (request, signal) => exporter.csv(request, signal),
      exportTrace: ({ captureId }, signal) => exporter.trace(captureId, signal),
    },
    sweepIdle: () => sweeper.idle(),
    async close() {
      await monitor.stop()
      await sweeper.close()
      await jobs.close()
      await rig.disconnect()
      hub.close()
      await analyzer.close()
      await store.close()
    },
  }

  function refuseWhileSweeping(): void {
    if (sweeper.running()) throw new AppError('conflict', 'A sweep is running.', 'Pause or stop the sweep first.')
  }

  async function startSweep(sweepId: number): Promise<ReturnType<typeof hub.state>> {
    if (!hub.state().warningAcknowledged)
      throw new AppError(
        'conflict',
        'The warning about flashing light has not been read yet.',
        'Read and acknowledge it, then start the sweep.',
      )
    await monitor.stop()
    await sweeper.start(sweepId)
    return hub.state()
  }

  function announceReview<T>(entry: T): T {
    if (entry !== null) hub.emit({ kind: 'changed', what: 'reviews' })
    return entry
  }
}

function identityText(
  identity: { manufacturer: string; model: string; serial: string; firmware: string } | null,
): string {
  return identity
    ? `${identity.manufacturer} ${identity.model}, serial ${identity.serial}, firmware ${identity.firmware}`
    : 'unknown'
}

/** Conditioned volts in the shape of a recording, for drawing. */
function asVolts(volts: Float64Array, like: RawTrace): RawTrace {
  return { ...like, format: 'real32', samples: Float32Array.from(volts), scaleV: 1, offsetV: 0 }
}
