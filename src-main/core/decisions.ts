/** What people decide about captures, and everything that follows from it: measuring, comparing, announcing. */
import type { HistoryEntry, NewNote, NewReviews, NoteEntry, UndoAnswer, UndoSteps } from '#shared/domain/desk.ts'
import { toErrorDetail } from '#shared/domain/errors.ts'
import type { NewReview, ReviewEntry } from '#shared/domain/views.ts'
import { groupFlags } from '#shared/measure/group-flags.ts'
import type { Hub } from './hub.ts'
import type { Measure } from './measure-apart.ts'
import { measureInputOf } from './measure-input.ts'
import type { Store } from './ports.ts'
import type { RecipeBook } from './recipes.ts'

export interface Decisions {
  add(review: NewReview): Promise<ReviewEntry>
  /** One decision on all captures of a scope that nobody has reviewed yet; answers how many they are. */
  addMany(reviews: NewReviews): Promise<{ captures: number }>
  note(note: NewNote): Promise<NoteEntry>
  undo(): Promise<UndoAnswer | null>
  redo(): Promise<UndoAnswer | null>
  steps(): Promise<UndoSteps>
  /** Draws the flags anew that only show when captures of one sweep are put side by side. */
  compare(sweepId: number, recipeHash: string): Promise<void>
  /** Resolves when nothing that follows from decisions is left to do. */
  idle(): Promise<void>
}

export interface DecisionDeps {
  readonly store: Store
  readonly hub: Hub
  readonly recipes: RecipeBook
  readonly measure: Measure
}

export function createDecisions({ store, hub, recipes, measure: measured }: DecisionDeps): Decisions {
  /** Comparisons one after the other: the last one started is the last one written. */
  let comparing: Promise<void> = Promise.resolve()

  function compare(sweepId: number, recipeHash: string): Promise<void> {
    const before = comparing
    const mine = (async () => {
      await before
      await store.setGroupFlags(sweepId, recipeHash, groupFlags(await store.comparison(sweepId, recipeHash)))
      hub.emit({ kind: 'changed', what: 'results' })
    })()
    comparing = mine.catch(() => undefined)
    return mine
  }

  /** Measures the capture as it now stands under every recipe its sweep is measured by, where no such result exists. */
  async function measure(captureId: number, hashes: readonly string[]): Promise<void> {
    const known = await Promise.all(hashes.map((hash) => store.result(captureId, hash)))
    if (known.every((result) => result !== null)) return
    const [stored] = await store.inputs([captureId])
    if (stored === undefined) return
    const sweep = await store.sweep({ sweepId: stored.sweepId })
    const results = []
    for (const hash of hashes) {
      if ((await store.result(captureId, hash)) !== null) continue
      const input = measureInputOf(stored, sweep, stored.trace, recipes.get(hash))
      const result = await measured({ ...input, override: stored.override })
      results.push({ captureId, result, overrideId: stored.overrideId })
    }
    if (results.length > 0) await store.addResults(results)
  }

  /** Brings results and comparisons up to a decision: the recipe in use at once, the others behind it. */
  async function follow(sweepId: number, captureIds: readonly number[]): Promise<void> {
    const current = recipes.currentHash()
    const others = (await store.measuredRecipes(sweepId)).filter((hash) => hash !== current)
    try {
      for (const captureId of captureIds) await measure(captureId, [current, ...others])
    } finally {
      await compare(sweepId, current)
    }
    for (const hash of others)
      compare(sweepId, hash).catch((error: unknown) =>
        hub.note('error', `Comparing the captures failed: ${toErrorDetail(error).message}`, sweepId),
      )
  }

  async function decided(sweepId: number, captureIds: readonly number[]): Promise<void> {
    // The decision is stored and stands, whatever becomes of the numbers that follow from it.
    await follow(sweepId, captureIds).catch((error: unknown) =>
      hub.note('error', `Measuring after a decision failed: ${toErrorDetail(error).message}`, sweepId),
    )
    hub.emit({ kind: 'changed', what: 'reviews' })
    await recount(sweepId)
  }

  /** A retake opens or closes a position of its sweep; one that runs counts for itself. */
  async function recount(sweepId: number): Promise<void> {
    const { done, missing, total } = await store.sweep({ sweepId })
    const shown = hub.state().sweep
    const running = shown?.state === 'running' || shown?.state === 'ladder'
    if (shown?.sweepId === sweepId && !running && (shown.done !== done || shown.missing !== missing))
      hub.patch({ sweep: { ...shown, done, missing, total } })
    hub.emit({ kind: 'changed', what: 'sweeps' })
  }

  async function moved(entry: HistoryEntry | null, how: 'Undone' | 'Redone'): Promise<UndoAnswer | null> {
    if (entry === null) return null
    // One command decides within one sweep.
    const captureIds = entry.companions.length > 0 ? entry.companions : [entry.captureId]
    if (entry.review !== null) await decided(entry.sweepId, captureIds)
    else hub.emit({ kind: 'changed', what: 'reviews' })
    return { words: `${how}: ${entry.words}.${await consequence(entry)}`, entry }
  }

  async function consequence({ review, captureId, companions }: HistoryEntry): Promise<string> {
    if (review?.decision !== 'retake' || companions.length > 0) return ''
    const { supersededBy } = await store.detail({ captureId, recipeHash: recipes.currentHash() })
    if (supersededBy !== null) return ` It has already been retaken; capture ${supersededBy} counts in its place.`
    return review.undone ? ' It will not be retaken.' : ' It will be retaken when its sweep is started.'
  }

  return {
    async add(review) {
      const entry = await store.addReview(review)
      const { sweepId } = await store.capture(review.captureId)
      await decided(sweepId, [review.captureId])
      return entry
    },
    async addMany(reviews) {
      const { captureIds } = await store.addReviews(reviews)
      await decided(reviews.scope.sweepId, captureIds)
      return { captures: captureIds.length }
    },
    async note(note) {
      const entry = await store.addNote(note)
      hub.emit({ kind: 'changed', what: 'reviews' })
      return entry
    },
    undo: async () => moved(await store.undo(), 'Undone'),
    redo: async () => moved(await store.redo(), 'Redone'),
    async steps() {
      const { undo, redo } = await store.steps()
      return { undo: undo?.words ?? null, redo: redo?.words ?? null }
    },
    compare,
    idle: () => comparing,
  }
}
