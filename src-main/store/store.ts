import type { Worker } from 'node:worker_threads'
import { AppError } from '#shared/domain/errors.ts'
import { type Recipe, RECIPE_PRESETS } from '#shared/domain/recipe.ts'
import { ALGORITHM } from '#shared/domain/result.ts'
import type { Clock, Log, Store } from '#main/core/ports.ts'
import { Link, type Request } from './link.ts'
import type { OpenReport, SalvageReport } from './messages.ts'

export interface StoreOptions {
  /** File of the archive; it and its folder are created when absent. */
  readonly path: string
  /** Starts `store/worker.ts` as a worker thread. */
  readonly createWorker: () => Worker
  readonly clock: Pick<Clock, 'iso'>
  readonly log: Log
  /** Version of the measuring code whose results are read and written. */
  readonly algorithm?: string
  /**
   * For looking at it, also while another program writes: nothing can be changed. An archive that is new, of an earlier
   * version or not closed properly is opened for writing all the same, because it has to be made ready first;
   * `untouched` refuses it instead (`not-found`, `conflict`).
   */
  readonly readOnly?: boolean | 'untouched'
  /** Given what the person must know before the work goes on. */
  readonly tell?: ((words: string) => void | Promise<void>) | undefined
  /** Recipes every archive holds from the start. */
  readonly recipes?: readonly Recipe[]
}

const close = (): Request => ({ kind: 'close' })

/**
 * Opens an archive, creating it when it is absent. Rejects with `archive-newer`, `archive-damaged` (see
 * `salvageArchive`), `archive-locked`, `archive-read-only`, `archive-disk-full` or `invalid-input` (another program's
 * file).
 */
export async function openStore(options: StoreOptions): Promise<Store> {
  const { path, clock, log } = options
  const open = (): Request => ({
    kind: 'open',
    readOnly: options.readOnly ?? false,
    settings: { path, algorithm: options.algorithm ?? ALGORITHM, at: clock.iso() },
  })
  const link = new Link({ createWorker: options.createWorker, log, reopen: open })
  const store = storeOver(link, clock)
  try {
    const report = (await link.send(open(), 'opening the archive')) as OpenReport
    if (report.unclean) log.warn('The archive was not closed the last time; it was checked and is whole.', { path })
    if (report.backupPath !== null) log.info('A copy was kept before the schema was upgraded.', { ...report })
    if (report.word !== null) {
      await store.log({ sweepId: null, level: 'warn', text: report.word })
      await options.tell?.(report.word)
    }
    if (!report.readOnly)
      await Promise.all((options.recipes ?? RECIPE_PRESETS).map((recipe) => store.saveRecipe(recipe)))
  } catch (error) {
    await link.end()
    throw error
  }
  return store
}

/**
 * The way on from a damaged archive: sets the file aside and copies everything readable into a new archive of the same
 * name. Nothing may have the archive open.
 */
export async function salvageArchive(
  options: Pick<StoreOptions, 'path' | 'createWorker' | 'clock' | 'log'>,
): Promise<SalvageReport> {
  const { path, clock, log, createWorker } = options
  const link = new Link({ createWorker, log, reopen: close })
  try {
    const request: Request = { kind: 'salvage', settings: { path, at: clock.iso() } }
    return (await link.send(request, 'salvaging the archive')) as SalvageReport
  } finally {
    await link.end()
  }
}

/** Every operation of the table as a call to the thread; which there are is known from the types alone. */
function storeOver(link: Link, clock: Pick<Clock, 'iso'>): Store {
  let closing: Promise<void> | null = null

  async function call(name: string, args: readonly unknown[], transfer: readonly ArrayBuffer[] = []): Promise<unknown> {
    if (closing !== null) throw new AppError('conflict', `The archive is closed; ${name} was not done.`)
    return link.send({ kind: 'call', name, args, at: clock.iso() }, name, transfer)
  }

  async function end(): Promise<void> {
    await link.drained()
    try {
      await link.send(close(), 'closing the archive')
    } finally {
      await link.end()
    }
  }

  const own: Pick<Store, 'addCapture' | 'close'> = {
    addCapture(capture, result) {
      // A copy of just these samples: the caller keeps its array, and a view does not drag its whole buffer along.
      const samples = capture.trace.samples.slice()
      const copy = { ...capture, trace: { ...capture.trace, samples } }
      return call('addCapture', [copy, result], [samples.buffer]) as ReturnType<Store['addCapture']>
    },
    close: () => (closing ??= end()),
  }
  return new Proxy(own as Store, {
    get(target, name) {
      // A store that is awaited or printed is asked for things that are no operations.
      if (typeof name === 'symbol' || name === 'then') return undefined
      return Reflect.get(target, name) ?? ((...args: readonly unknown[]) => call(name, args))
    },
  })
}
