/** The use cases behind every way in: desktop window, loopback server and command line. */
import { AppError } from '#shared/domain/errors.ts'
import { ALGORITHM } from '#shared/domain/result.ts'
import { createAim } from './aim.ts'
import { campaignResultsOf } from './campaign-results.ts'
import { cellTerms } from './cell-terms.ts'
import type { Core } from './facade.ts'
import { createDecisions } from './decisions.ts'
import { createDesk } from './desk.ts'
import { createGuides } from './guided/guides.ts'
import { createHub } from './hub.ts'
import { createImportDesk } from './import-desk.ts'
import { createLight } from './light.ts'
import { createExports } from './exports.ts'
import { createJobs, type Jobs } from './jobs.ts'
import { createLatencyRuns } from './latency.ts'
import { createLive } from './live.ts'
import { createLosses } from './losses.ts'
import { causesApart, drawApart, measureApart } from './measure-apart.ts'
import { createMeasuring } from './measuring.ts'
import { createMonitor } from './monitor.ts'
import type { Analyzer, Clock, Exporter, Log, Meters, Publisher, Rig, Staging, StimulusRouter, Store } from './ports.ts'
import { createPublishing, type Publishing } from './campaign/publish.ts'
import type { Changer } from './campaign/arrival.ts'
import { type CampaignRunner, createCampaignRunner } from './campaign/runner.ts'
import { compareUnderRecipes } from './recipe-compare.ts'
import { createRecipePreviews } from './recipe-preview.ts'
import { openRecipeBook } from './recipes.ts'
import { createRefusals } from './refusals.ts'
import { createRigCalls } from './rig-calls.ts'
import { refuseOtherRig, rigKept } from './rig-identity.ts'
import { storedCalls } from './stored-calls.ts'
import { createLibrary, type LibraryOptions } from './library.ts'
import { createSweepCalls } from './sweep-calls.ts'
import { createSweeper } from './sweeper.ts'

export interface CoreDeps {
  readonly store: Store
  readonly rig: Rig
  readonly stimulus: StimulusRouter
  readonly analyzer: Analyzer
  readonly exporter: Exporter
  readonly staging: Staging
  /** Absent where no instrument can be reached. */
  readonly meters?: Meters
  readonly publisher: Publisher
  readonly library: LibraryOptions
  /** How a run gets setting and refresh rate changed; a person is asked when absent. */
  readonly changer?: () => Changer
  readonly clock: Clock
  readonly log: Log
  readonly version: string
  readonly host: 'desktop' | 'server'
}

/** What callers in this process have beside the contract. */
export interface WholeCore extends Core {
  sweepIdle(): Promise<void>
  readonly runner: CampaignRunner
  readonly publishing: Publishing
  readonly openJob: Jobs['open']
}

export async function createCore(deps: CoreDeps): Promise<WholeCore> {
  const { store, rig, stimulus, clock, log, analyzer, exporter, staging } = deps
  const recipes = await openRecipeBook(store)
  const hub = createHub({
    rig,
    stimulus,
    store,
    log,
    recipeHash: recipes.currentHash(),
    recipeHashBefore: recipes.hashBefore(),
    warningAcknowledged: false,
  })
  const drawn = drawApart(analyzer)
  const live = createLive(drawn)
  const monitor = createMonitor({ rig, clock, live, hub })
  const aim = createAim({ rig, stimulus, clock, recipes })
  const jobs = createJobs(hub, clock)
  const measure = measureApart(analyzer)
  const causesOf = causesApart(analyzer)
  const decisions = createDecisions({ store, hub, recipes, measure })
  const measuring = createMeasuring({ store, analyzer, hub, jobs, recipes, decisions })
  const desk = createDesk({ store, recipes, measure, draw: drawn })
  const light = createLight({ ...deps, recipes, draw: drawn })
  const previews = createRecipePreviews({ store, analyzer })

  const losses = createLosses({ rig, stimulus, clock })
  /** Sweep captures are stored whatever happens to their analysis: a failing measurement becomes a capture without result. */
  const sweeper = createSweeper({
    store,
    rig,
    stimulus,
    clock,
    live,
    hub,
    losses,
    measure,
    recipe: () => recipes.current(),
    darkV: (rangeV) => aim.darkV(rangeV),
    afterRun: async (sweepId) => {
      await decisions.compare(sweepId, recipes.currentHash())
      await measuring.catchUp(sweepId)
    },
  })
  await sweeper.recover()
  const runner = createCampaignRunner({
    store,
    hub,
    rig,
    stimulus,
    clock,
    sweeper,
    losses,
    measure: (input) => analyzer.measure(input),
    recipe: () => recipes.current(),
    changer: () => deps.changer?.() ?? { kind: 'ask' },
    rigOf: () => rigKept(rig),
    refuseOtherRig: (origin) => refuseOtherRig(rig, origin),
    atEnd: () => stimulus.simulatedMenu(null),
  })
  await runner.recover()
  const publishing = createPublishing({ store, recipes, publisher: deps.publisher, version: deps.version })
  const library = createLibrary({ ...deps.library, store, recipes, jobs, hub })
  const importDesk = createImportDesk({
    store,
    clock,
    hub,
    jobs,
    measure,
    staging,
    recipes,
    compareCaptures: (sweepId, hash) => decisions.compare(sweepId, hash),
  })
  await importDesk.recover()
  const latency = createLatencyRuns({ store, rig, stimulus, clock, hub, jobs })
  await latency.recover()
  const guides = createGuides({
    store,
    rig,
    stimulus,
    meters: deps.meters,
    clock,
    hub,
    jobs,
    light: (input, signal) => analyzer.light(input, signal),
    measure: (input) => analyzer.measure(input),
    recipe: () => recipes.current(),
    darkV: (rangeV) => aim.darkV(rangeV),
    rigIdentity: () => rigKept(rig).rigIdentity,
  })
  const refuse = createRefusals({ hub, sweeper, runner, latency, guides })

  /** Rig and display for one long measurement. */
  const claim = async (): Promise<void> => {
    refuse.unwarned()
    refuse.whileSweeping()
    await monitor.stop()
    aim.forget()
  }

  /** What a preview keeps of a capture includes the marks that stood. */
  const decided = async <T>(work: Promise<T>): Promise<T> => {
    const answer = await work
    previews.forget()
    return answer
  }

  const settled = async (work: Promise<unknown> | void): Promise<ReturnType<typeof hub.state>> => {
    await work
    return hub.state()
  }

  const stored = storedCalls(store, (what) => hub.emit({ kind: 'changed', what }))
  return {
    system: {
      ...stored.system,
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
      acknowledgeWarning: async () => {
        hub.patch({ warningAcknowledged: true })
        return hub.state()
      },
    },
    rig: createRigCalls({ rig, hub, monitor, aim, live, refuse }),
    stimulus: {
      simulatedMenu: (menu) => settled(stimulus.simulatedMenu(menu)),
      use: async ({ kind }) => {
        refuse.whileConnected()
        aim.forget()
        stimulus.use(kind)
        return hub.state()
      },
      show: async ({ plan, level }, signal) => {
        refuse.whileSweeping()
        return settled(aim.show(plan, level, signal))
      },
    },
    campaigns: {
      ...stored.campaigns,
      content: ({ campaignId, recipeHash }) => publishing.content(campaignId, recipeHash),
      edges: ({ campaignId, recipeHash, ...question }) => publishing.edges(campaignId, recipeHash, question),
      results: ({ campaignId, recipeHash, measures }) =>
        campaignResultsOf(store, recipes, { campaignId, recipeHash, measures }),
    },
    library: {
      list: ({ recipeHash }) => library.list(recipeHash),
      add: ({ path }) => library.add(path),
      addChosen: (paths) => library.addChosen(paths),
      remove: async ({ path }) => {
        await library.remove(path)
        return null
      },
      measure: async ({ path, recipeHash }) => ({ jobId: await library.measure(path, recipeHash) }),
    },
    runs: {
      ...stored.runs,
      create: ({ campaignId, plan }) => runner.create(campaignId, plan),
      start: async ({ runId }) => {
        refuse.unwarned()
        refuse.whileLatency()
        await monitor.stop()
        aim.forget()
        return settled(runner.start(runId))
      },
      pause: ({ runId }) => settled(runner.pause(runId)),
      answer: async ({ runId, answer }) => settled(runner.answer(runId, answer)),
      skip: (change) => settled(runner.skip(change)),
      unskip: (change) => settled(runner.unskip(change)),
      retake: (change) => runner.retake(change),
      restore: (change) => settled(runner.restore(change)),
    },
    readings: {
      ...stored.readings,
      meter: async ({ meter, query }, signal) => {
        if (deps.meters === undefined)
          throw new AppError('rig-absent', 'No meter can be reached from here.', 'Type the value in instead.')
        return deps.meters.read(meter, query, signal)
      },
    },
    latency: {
      ...stored.latency,
      start: async ({ campaignId, plan }) => {
        await claim()
        return { jobId: latency.start(campaignId, plan, rigKept(rig).rigIdentity) }
      },
    },
    guided: {
      start: async ({ campaignId, plan }) => {
        await claim()
        return { jobId: await guides.start(campaignId, plan) }
      },
      resume: async ({ campaignId, sequenceId }) => {
        await claim()
        return { jobId: await guides.resume(campaignId, sequenceId) }
      },
      answer: async (answer) => settled(guides.answer(answer)),
      open: ({ campaignId }) => guides.open(campaignId),
    },
    sweeps: { ...stored.sweeps, ...createSweepCalls({ store, rig, hub, monitor, aim, sweeper, runner, refuse }) },
    captures: {
      ...stored.captures,
      trace: (view) => desk.trace(view),
      overlay: (view) => desk.overlay(view),
      spectrum: (request) => desk.spectrum(request),
      previewOverride: ({ captureId, recipeHash, override }) => desk.previewOverride(captureId, recipeHash, override),
      causes: ({ captureIds, recipeHash, measure: id }) =>
        cellTerms(store, causesOf, recipes.get(recipeHash), captureIds, id),
      setNote: (note) => decisions.note(note),
    },
    light,
    recipes: {
      list: async () => recipes.list(),
      save: async (recipe) => {
        const saved = await recipes.save(recipe)
        hub.emit({ kind: 'changed', what: 'recipes' })
        return saved
      },
      use: async ({ recipeHash, remember }) => {
        await recipes.use(recipeHash, remember)
        hub.patch({ recipeHash, recipeHashBefore: recipes.hashBefore() })
        return hub.state()
      },
      preview: ({ captureId, recipe, columns }, signal) =>
        previews.one({ captureId, recipe, ...(columns === undefined ? {} : { columns }) }, signal),
      previewSample: (input, signal) => previews.sample(input, recipes.current(), signal),
      compare: (input) => compareUnderRecipes(store, recipes, input),
      reanalyse: async ({ recipeHash, campaignId, sweepId }) => {
        const jobId = measuring.start(recipeHash, {
          ...(campaignId === undefined ? {} : { campaignId }),
          ...(sweepId === undefined ? {} : { sweepId }),
        })
        return { jobId }
      },
    },
    jobs: {
      cancel: async ({ jobId }) => settled(jobs.cancel(jobId)),
      proceed: async ({ jobId }) => settled(jobs.proceed(jobId)),
      outcome: async ({ jobId }) => jobs.outcome(jobId),
    },
    reviews: {
      ...stored.reviews,
      add: (review) => decided(decisions.add(review)),
      addMany: (reviews) => decided(decisions.addMany(reviews)),
      undo: () => decided(decisions.undo()),
      redo: () => decided(decisions.redo()),
      steps: () => decisions.steps(),
    },
    files: {
      stage: (input) => importDesk.stage(input),
      unstage: (input) => importDesk.unstage(input),
      importPreview: (input) => importDesk.importPreview(input),
      importStart: (input) => importDesk.importStart(input),
      importCommit: (request, signal) => importDesk.importCommit(request, signal),
      export: createExports({ exporter, publishing, jobs }),
    },
    sweepIdle: () => sweeper.idle(),
    runner,
    publishing,
    openJob: (kind, label, result) => jobs.open(kind, label, result),
    async close() {
      await monitor.stop()
      await runner.close()
      await sweeper.close()
      await jobs.close()
      await decisions.idle()
      await staging.close()
      await rig.disconnect()
      hub.close()
      await analyzer.close()
      await store.close()
    },
  }
}
