import type { Worker } from 'node:worker_threads'
import { AppError } from '#shared/domain/errors.ts'
import { canonicalJson, type Recipe, RECIPE_PRESETS, recipeHash } from '#shared/domain/recipe.ts'
import { ALGORITHM } from '#shared/domain/result.ts'
import type { Clock, Log, Store } from '#main/core/ports.ts'
import { Link, type Request } from './link.ts'
import type { OpenReport, SalvageReport } from './messages.ts'
import type { OperationArguments, OperationName, OperationValue } from './operations.ts'

export interface StoreOptions {
  /** File of the archive; it and its folder are created when absent. */
  readonly path: string
  /** Starts `store/worker.ts` as a worker thread. */
  readonly createWorker: () => Worker
  readonly clock: Pick<Clock, 'iso'>
  readonly log: Log
  /** Version of the measuring code whose results are read and written. */
  readonly algorithm?: string
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
    settings: { path, algorithm: options.algorithm ?? ALGORITHM, at: clock.iso() },
  })
  const link = new Link({ createWorker: options.createWorker, log, reopen: open })
  const store = new WorkerStore(link, clock)
  try {
    const report = (await link.send(open(), 'opening the archive')) as OpenReport
    if (report.unclean) log.warn('The archive was not closed the last time; it was checked and is whole.', { path })
    if (report.backupPath !== null) log.info('A copy was kept before the schema was raised.', { ...report })
    await store.saveRecipes(options.recipes ?? RECIPE_PRESETS)
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

class WorkerStore implements Store {
  readonly #link: Link
  readonly #clock: Pick<Clock, 'iso'>
  #closing: Promise<void> | null = null

  constructor(link: Link, clock: Pick<Clock, 'iso'>) {
    this.#link = link
    this.#clock = clock
  }

  async #call<K extends OperationName>(
    name: K,
    args: OperationArguments<K>,
    transfer: readonly ArrayBuffer[] = [],
  ): Promise<OperationValue<K>> {
    if (this.#closing !== null) throw new AppError('conflict', `The archive is closed; ${name} was not done.`)
    return (await this.#link.send({ kind: 'call', name, args }, name, transfer)) as OperationValue<K>
  }

  info: Store['info'] = () => this.#call('info', [])
  createCampaign: Store['createCampaign'] = (campaign) => this.#call('createCampaign', [campaign, this.#clock.iso()])
  campaigns: Store['campaigns'] = () => this.#call('campaigns', [])
  createSweep: Store['createSweep'] = (sweep) => this.#call('createSweep', [sweep, this.#clock.iso()])
  sweep: Store['sweep'] = (id) => this.#call('sweep', [id])
  sweeps: Store['sweeps'] = (campaignId, includeHidden) =>
    this.#call('sweeps', [campaignId ?? null, includeHidden ?? false])
  setSweepState: Store['setSweepState'] = (id, state, reason) => this.#call('setSweepState', [id, state, reason])
  setSweepHidden: Store['setSweepHidden'] = (id, hidden) => this.#call('setSweepHidden', [id, hidden])
  setLadder: Store['setLadder'] = async (id, ladder) => {
    await this.#call('setLadder', [id, ladder])
  }
  addCapture: Store['addCapture'] = (capture, result) => {
    // A copy of just these samples: the caller keeps its array, and a view does not drag its whole buffer along.
    const samples = capture.trace.samples.slice()
    const own = { ...capture, trace: { ...capture.trace, samples } }
    return this.#call('addCapture', [own, result], [samples.buffer])
  }
  progress: Store['progress'] = (sweepId) => this.#call('progress', [sweepId])
  captures: Store['captures'] = (filter) => this.#call('captures', [filter])
  neighbour: Store['neighbour'] = (filter, captureId, direction) =>
    this.#call('neighbour', [filter, captureId, direction])
  position: Store['position'] = (filter, captureId) => this.#call('position', [filter, captureId])
  detail: Store['detail'] = (captureId, recipeHash) => this.#call('detail', [captureId, recipeHash])
  repeats: Store['repeats'] = (captureId) => this.#call('repeats', [captureId])
  retakes: Store['retakes'] = (sweepId) => this.#call('retakes', [sweepId ?? null])
  capture: Store['capture'] = (id) => this.#call('capture', [id])
  trace: Store['trace'] = (id) => this.#call('trace', [id])
  overview: Store['overview'] = (id) => this.#call('overview', [id])
  inputs: Store['inputs'] = (ids) => this.#call('inputs', [ids])
  result: Store['result'] = (captureId, recipeHash) => this.#call('result', [captureId, recipeHash])
  unmeasured: Store['unmeasured'] = (recipeHash, scope) => this.#call('unmeasured', [recipeHash, scope])
  measuredRecipes: Store['measuredRecipes'] = (sweepId) => this.#call('measuredRecipes', [sweepId])
  addResults: Store['addResults'] = async (results) => {
    await this.#call('addResults', [results])
  }
  comparison: Store['comparison'] = (sweepId, recipeHash) => this.#call('comparison', [sweepId, recipeHash])
  setGroupFlags: Store['setGroupFlags'] = async (sweepId, recipeHash, flags) => {
    await this.#call('setGroupFlags', [sweepId, recipeHash, flags])
  }
  matrix: Store['matrix'] = (sweepId, recipeHash, measures) => this.#call('matrix', [sweepId, recipeHash, measures])
  saveRecipe: Store['saveRecipe'] = async (recipe) => ({ hash: (await this.saveRecipes([recipe]))[0] ?? '' })
  saveRecipes(recipes: readonly Recipe[]): Promise<string[]> {
    const rows = recipes.map((recipe) => ({ hash: recipeHash(recipe), parameters: canonicalJson(recipe) }))
    return this.#call('saveRecipes', [rows, this.#clock.iso()])
  }
  recipes: Store['recipes'] = () => this.#call('recipes', [])
  recipesInUse: Store['recipesInUse'] = () => this.#call('recipesInUse', [])
  setRecipesInUse: Store['setRecipesInUse'] = async (hashes) => {
    await this.#call('setRecipesInUse', [hashes])
  }
  usableCaptures: Store['usableCaptures'] = (scope) => this.#call('usableCaptures', [scope])
  addReview: Store['addReview'] = (review) => this.#call('addReview', [review, this.#clock.iso()])
  addNote: Store['addNote'] = (note) => this.#call('addNote', [note, this.#clock.iso()])
  undo: Store['undo'] = () => this.#call('undo', [])
  redo: Store['redo'] = () => this.#call('redo', [])
  steps: Store['steps'] = () => this.#call('steps', [])
  history: Store['history'] = (query) => this.#call('history', [query])
  reviews: Store['reviews'] = (captureId) => this.#call('reviews', [captureId])
  log: Store['log'] = (entry) => this.#call('log', [entry, this.#clock.iso()])
  events: Store['events'] = (query) => this.#call('events', [query])

  /** Refuses new work, waits for what is under way, closes the file and ends the thread. */
  close(): Promise<void> {
    this.#closing ??= this.#end()
    return this.#closing
  }

  async #end(): Promise<void> {
    await this.#link.drained()
    try {
      await this.#link.send(close(), 'closing the archive')
    } finally {
      await this.#link.end()
    }
  }
}
