/** The contract's procedures over the core, drawn from the contract itself: no decision is taken here. */
import type { AnyContractProcedure } from '@orpc/contract'
import { implement } from '@orpc/server'
import type { Core } from '#main/core/facade.ts'
import type { Log } from '#main/core/ports.ts'
import { contract } from '#shared/contract/contract.ts'
import type { CallContext } from '#shared/contract/wire.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { StimulusCommand, StimulusReport } from '#shared/domain/stimulus.ts'
import type { ArchiveChoice } from '#shared/domain/views.ts'
import { toFailure } from './failure.ts'
import { exportSteps } from './export-steps.ts'
import { eventStream } from './fan-out.ts'

/** The page on the display under test, as the api sees it. */
interface StimulusPageEnd {
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

/** Which archive the host works on, and how to change over. */
export interface ArchiveSwitch {
  readonly current: ArchiveChoice
  /** Rejects with `conflict` while something runs, else as opening an archive does; cancelled, everything stays as it is. */
  open(choice: ArchiveChoice): Promise<void>
}

export interface ApiDeps {
  readonly core: Core
  /** The host's file dialog for archives; null where there is none. */
  readonly chooseArchives: (() => Promise<readonly string[]>) | null
  readonly page: StimulusPageEnd
  readonly windows: StimulusWindows
  /** Null where the archive stays the one it is. */
  readonly archives: ArchiveSwitch | null
  readonly log: Log
}

const never = new AbortController().signal

/** One call of the core, as the contract's types have it. */
type CoreCall = (...args: readonly unknown[]) => Promise<unknown>
interface Leaf {
  handler(answer: (call: { input: unknown; signal?: AbortSignal }) => unknown): object
}

export function createRouter({ core, page, windows, archives, chooseArchives, log }: ApiDeps) {
  const os = implement(contract).$context<CallContext>()
  const { system, stimulus, library, files } = os
  /** What is not simply a call of the core: streams, and the page and window that the core does not see. */
  const own = {
    system: {
      state: system.state.handler(() => core.system.state()),
      archive: system.archive.handler(() => archives?.current ?? null),
      openArchive: system.openArchive.handler(async ({ input }) => {
        if (archives === null)
          throw new AppError('conflict', 'The archive in use cannot be changed here.', 'Start the program on another.')
        await archives.open(input.archive)
        return archives.current
      }),
      watch: system.watch.handler(({ context, signal = never }) =>
        eventStream(
          (listener) => core.system.watch(listener),
          () => ({ kind: 'state', state: core.system.state() }),
          () => context.drained(),
          signal,
        ),
      ),
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
    },
    library: {
      choose: library.choose.handler(async () => {
        if (chooseArchives === null)
          throw new AppError('conflict', 'There is no file dialog here.', 'Type the path of the archive.')
        return core.library.addChosen(await chooseArchives())
      }),
    },
    files: {
      export: files.export.handler(async function* ({ input, context, signal = never }) {
        try {
          yield* exportSteps(await core.files.export(input), () => context.drained(), signal)
        } catch (error) {
          throw toFailure(error, log, 'files.export')
        }
      }),
    },
  }
  // `Core` has a method of the contract's types for every other procedure (core/facade.ts), so no name is written again.
  const leaves = os as unknown as Readonly<Record<string, Readonly<Record<string, Leaf>>>>
  const calls = core as unknown as Readonly<Record<string, Readonly<Record<string, CoreCall>>>>
  const router = Object.entries(contract).map(([group, procedures]) => {
    const passed = Object.entries(procedures as Record<string, AnyContractProcedure>).map(([name, procedure]) => {
      const takesInput = procedure['~orpc'].inputSchema !== undefined
      const call: CoreCall = async (...args) => calls[group]?.[name]?.(...args)
      const leaf = leaves[group]?.[name]
      return [name, leaf?.handler(({ input, signal }) => (takesInput ? call(input, signal) : call(signal)))] as const
    })
    return [group, { ...Object.fromEntries(passed), ...own[group as keyof typeof own] }] as const
  })
  return os.router(Object.fromEntries(router) as never)
}
