/** The contract's procedures over the core: no decision is taken here. */
import { implement } from '@orpc/server'
import type { Core } from '#main/core/facade.ts'
import type { Log } from '#main/core/ports.ts'
import { contract } from '#shared/contract/contract.ts'
import type { CallContext } from '#shared/contract/wire.ts'
import type { StimulusCommand, StimulusReport } from '#shared/domain/stimulus.ts'
import { toFailure } from './failure.ts'
import { eventStream } from './fan-out.ts'

/** The page on the display under test, as the api sees it. */
export interface StimulusPageEnd {
  /** The newest page to attach is the one that is used; an earlier one's stream ends. */
  attach(connection: string, signal: AbortSignal): AsyncGenerator<StimulusCommand, void>
  /** Reports of any other page than the attached one are ignored. */
  report(connection: string, report: StimulusReport): void
}

/** The window on the display under test; only the desktop has one. */
export interface StimulusWindows {
  screens(): { id: number; label: string; refreshHz: number; primary: boolean }[]
  open(screenId: number): Promise<void>
  close(): Promise<void>
}

export interface ApiDeps {
  readonly core: Core
  readonly page: StimulusPageEnd
  readonly windows: StimulusWindows
  readonly log: Log
}

const never = new AbortController().signal

export function createRouter({ core, page, windows, log }: ApiDeps) {
  const os = implement(contract).$context<CallContext>()
  const { system, rig, stimulus, campaigns, sweeps, captures, recipes, reviews, files } = os
  return os.router({
    system: {
      info: system.info.handler(({ signal }) => core.system.info(signal)),
      state: system.state.handler(() => core.system.state()),
      watch: system.watch.handler(({ context, signal = never }) =>
        eventStream(
          (listener) => core.system.watch(listener),
          () => ({ kind: 'state', state: core.system.state() }),
          () => context.drained(),
          signal,
        ),
      ),
      log: system.log.handler(({ input, signal }) => core.system.log(input, signal)),
      acknowledgeWarning: system.acknowledgeWarning.handler(({ input, signal }) =>
        core.system.acknowledgeWarning(input, signal),
      ),
    },
    rig: {
      ports: rig.ports.handler(({ signal }) => core.rig.ports(signal)),
      connect: rig.connect.handler(({ input, signal }) => core.rig.connect(input, signal)),
      disconnect: rig.disconnect.handler(({ signal }) => core.rig.disconnect(signal)),
      inject: rig.inject.handler(({ input, signal }) => core.rig.inject(input, signal)),
      monitor: rig.monitor.handler(({ input, signal }) => core.rig.monitor(input, signal)),
      preflight: rig.preflight.handler(({ input, signal }) => core.rig.preflight(input, signal)),
      live: rig.live.handler(({ input, signal }) => core.rig.live(input, signal)),
    },
    stimulus: {
      attach: stimulus.attach.handler(async function* ({ context, signal = never }) {
        try {
          yield* page.attach(context.connection, signal)
        } catch (error) {
          throw toFailure(error, log, 'stimulus.attach')
        }
      }),
      report: stimulus.report.handler(({ input, context }) => {
        page.report(context.connection, input)
        return null
      }),
      screens: stimulus.screens.handler(() => windows.screens()),
      openWindow: stimulus.openWindow.handler(async ({ input }) => {
        await windows.open(input.screenId)
        return core.system.state()
      }),
      closeWindow: stimulus.closeWindow.handler(async () => {
        await windows.close()
        return core.system.state()
      }),
      show: stimulus.show.handler(({ input, signal }) => core.stimulus.show(input, signal)),
      use: stimulus.use.handler(({ input, signal }) => core.stimulus.use(input, signal)),
    },
    campaigns: {
      list: campaigns.list.handler(({ signal }) => core.campaigns.list(signal)),
      create: campaigns.create.handler(({ input, signal }) => core.campaigns.create(input, signal)),
    },
    sweeps: {
      list: sweeps.list.handler(({ input, signal }) => core.sweeps.list(input, signal)),
      hide: sweeps.hide.handler(({ input, signal }) => core.sweeps.hide(input, signal)),
      get: sweeps.get.handler(({ input, signal }) => core.sweeps.get(input, signal)),
      check: sweeps.check.handler(({ input, signal }) => core.sweeps.check(input, signal)),
      create: sweeps.create.handler(({ input, signal }) => core.sweeps.create(input, signal)),
      start: sweeps.start.handler(({ input, signal }) => core.sweeps.start(input, signal)),
      pause: sweeps.pause.handler(({ input, signal }) => core.sweeps.pause(input, signal)),
      resume: sweeps.resume.handler(({ input, signal }) => core.sweeps.resume(input, signal)),
      stop: sweeps.stop.handler(({ input, signal }) => core.sweeps.stop(input, signal)),
      retakes: sweeps.retakes.handler(({ input, signal }) => core.sweeps.retakes(input, signal)),
      matrix: sweeps.matrix.handler(({ input, signal }) => core.sweeps.matrix(input, signal)),
    },
    captures: {
      list: captures.list.handler(({ input, signal }) => core.captures.list(input, signal)),
      get: captures.get.handler(({ input, signal }) => core.captures.get(input, signal)),
      neighbour: captures.neighbour.handler(({ input, signal }) => core.captures.neighbour(input, signal)),
      position: captures.position.handler(({ input, signal }) => core.captures.position(input, signal)),
      trace: captures.trace.handler(({ input, signal }) => core.captures.trace(input, signal)),
      overlay: captures.overlay.handler(({ input, signal }) => core.captures.overlay(input, signal)),
      spectrum: captures.spectrum.handler(({ input, signal }) => core.captures.spectrum(input, signal)),
      previewOverride: captures.previewOverride.handler(({ input, signal }) =>
        core.captures.previewOverride(input, signal),
      ),
      setNote: captures.setNote.handler(({ input, signal }) => core.captures.setNote(input, signal)),
    },
    recipes: {
      list: recipes.list.handler(({ signal }) => core.recipes.list(signal)),
      save: recipes.save.handler(({ input, signal }) => core.recipes.save(input, signal)),
      use: recipes.use.handler(({ input, signal }) => core.recipes.use(input, signal)),
      preview: recipes.preview.handler(({ input, signal }) => core.recipes.preview(input, signal)),
      previewSample: recipes.previewSample.handler(({ input, signal }) => core.recipes.previewSample(input, signal)),
      compare: recipes.compare.handler(({ input, signal }) => core.recipes.compare(input, signal)),
      reanalyse: recipes.reanalyse.handler(({ input, signal }) => core.recipes.reanalyse(input, signal)),
      cancelJob: recipes.cancelJob.handler(({ input, signal }) => core.recipes.cancelJob(input, signal)),
    },
    reviews: {
      add: reviews.add.handler(({ input, signal }) => core.reviews.add(input, signal)),
      undo: reviews.undo.handler(({ signal }) => core.reviews.undo(signal)),
      redo: reviews.redo.handler(({ signal }) => core.reviews.redo(signal)),
      steps: reviews.steps.handler(({ signal }) => core.reviews.steps(signal)),
      history: reviews.history.handler(({ input, signal }) => core.reviews.history(input, signal)),
    },
    files: {
      stage: files.stage.handler(({ input, signal }) => core.files.stage(input, signal)),
      unstage: files.unstage.handler(({ input, signal }) => core.files.unstage(input, signal)),
      importPreview: files.importPreview.handler(({ input, signal }) => core.files.importPreview(input, signal)),
      importStart: files.importStart.handler(({ input, signal }) => core.files.importStart(input, signal)),
      importReport: files.importReport.handler(({ input, signal }) => core.files.importReport(input, signal)),
      exportCsv: files.exportCsv.handler(({ input, signal }) => core.files.exportCsv(input, signal)),
      exportTrace: files.exportTrace.handler(({ input, signal }) => core.files.exportTrace(input, signal)),
    },
  })
}
