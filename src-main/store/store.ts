import type { Worker } from 'node:worker_threads'
import { AppError } from '#shared/domain/errors.ts'
import { type Recipe, RECIPE_PRESETS } from '#shared/domain/recipe.ts'
import { ALGORITHM } from '#shared/domain/result.ts'
import type { Clock, Log, Store } from '#main/core/ports.ts'
import { type Call, Threads } from '#main/threads/threads.ts'
import type { SalvageReport } from './salvage-report.ts'
import type { StoreCalls } from './worker.ts'

export interface StoreOptions {
  /** File of the archive; it and its folder are created when absent, unless `mustExist`. */
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
  /** Refuses an archive that is not there (`not-found`) and makes nothing. */
  readonly mustExist?: boolean
  /** Told what the person must know before the work goes on. */
  readonly tell?: ((words: string) => void | Promise<void>) | undefined
  /** Recipes every archive holds from the start. */
  readonly recipes?: readonly Recipe[]
}

/** A request that takes longer is logged, ms. */
const SLOW_MS = 100

/** The one thread that writes. It answers in order, so it may hold any number of requests. */
function archiveThread(
  { createWorker, log }: Pick<StoreOptions, 'createWorker' | 'log'>,
  again?: () => Call<StoreCalls>,
): Threads<StoreCalls> {
  const closed = (): AppError => new AppError('conflict', 'The archive is closed.')
  return new Threads<StoreCalls>({
    createWorker,
    log,
    size: 1,
    depth: Infinity,
    slowMs: SLOW_MS,
    ...(again === undefined ? {} : { again }),
    words: {
      thread: "The archive's thread",
      lost: (problem, label) =>
        new AppError(
          'worker-died',
          `The archive's thread ended (${problem}) before ${label} was answered; it may or may not be stored.`,
          'Look at the archive before repeating it. Everything acknowledged earlier is safe.',
        ),
      cancelled: closed,
      closed,
      keepsEnding: () =>
        new AppError(
          'worker-died',
          "The archive's thread keeps stopping; it will not be restarted.",
          'Close the program and start it again. Everything acknowledged earlier is safe.',
        ),
    },
  })
}

/**
 * Opens an archive, creating it when it is absent. Rejects with `archive-newer`, `archive-damaged` (see
 * `salvageArchive`), `archive-locked`, `archive-read-only`, `archive-disk-full` or `invalid-input` (another program's
 * file).
 */
export async function openStore(options: StoreOptions): Promise<Store> {
  const { path, clock, log } = options
  const open = (): Call<StoreCalls> & { name: 'open' } => ({
    name: 'open',
    args: [
      { path, algorithm: options.algorithm ?? ALGORITHM, at: clock.iso(), mustExist: options.mustExist ?? false },
      options.readOnly ?? false,
    ],
    label: 'opening the archive',
  })
  const thread = archiveThread(options, open)
  const store = storeOver(thread, clock)
  try {
    const { args, label } = open()
    const report = await thread.call('open', args, label)
    if (report.unclean) log.warn('The archive was not closed the last time; it was checked and is whole.', { path })
    if (report.backupPath !== null) log.info('A copy was kept before the schema was upgraded.', { ...report })
    if (report.word !== null) {
      await store.log({ sweepId: null, level: 'warn', text: report.word })
      await options.tell?.(report.word)
    }
    if (!report.readOnly)
      await Promise.all((options.recipes ?? RECIPE_PRESETS).map((recipe) => store.saveRecipe(recipe)))
  } catch (error) {
    await thread.leave()
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
  const thread = archiveThread(options)
  try {
    return await thread.call('salvage', [{ path: options.path, at: options.clock.iso() }], 'salvaging the archive')
  } finally {
    await thread.leave()
  }
}

/** Every operation of the table as a call to the thread; which there are is known from the types alone. */
function storeOver(thread: Threads<StoreCalls>, clock: Pick<Clock, 'iso'>): Store {
  let closing: Promise<void> | null = null
  /** Answers come in order, so when this one is there, all are. */
  let last: Promise<unknown> = Promise.resolve()

  async function call(name: string, args: readonly unknown[], transfer: readonly ArrayBuffer[] = []): Promise<unknown> {
    if (closing !== null) throw new AppError('conflict', `The archive is closed; ${name} was not done.`)
    const answer = thread.call('operate', [name, clock.iso(), args], name, { transfer })
    last = answer.catch(() => undefined)
    return answer
  }

  async function end(): Promise<void> {
    await last
    try {
      await thread.call('close', [], 'closing the archive')
    } finally {
      await thread.leave()
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
