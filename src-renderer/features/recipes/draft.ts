/** An edited recipe with its history, and the book of drafts that outlives the screen. */
import { recipeHash, recipeSchema, type Recipe } from '#shared/domain/recipe.ts'
import { beginHistory, recordEdit, type UndoHistory } from '../../ui/undo-history.ts'

export type Draft = UndoHistory<Recipe, Gesture>

/** Field and time (ms) of an edit, to take one drag of a slider as one step. */
interface Gesture {
  readonly field: string
  readonly at: number
}

/** Edits of one field that follow one another faster than this are one step of undo, ms. */
const GESTURE_MS = 900

/** Time in ms. An edit that changes no parameter leaves the draft as it is. */
export function editDraft(draft: Draft, field: string, recipe: Recipe, at: number): Draft {
  if (recipeHash(recipe) === recipeHash(draft.present)) return draft
  const last = draft.past.at(-1)?.note
  const isSameGesture = last?.field === field && at - last.at < GESTURE_MS
  return recordEdit(draft, recipe, { field, at }, isSameGesture)
}

/** Drafts kept at once; the oldest give way. */
const DRAFT_LIMIT = 20

export interface DraftStorage {
  read(): unknown
  write(value: unknown): void
}

/** One draft for each saved recipe that is being edited. What was edited is there again after a reload, without its steps. */
export class DraftBook {
  readonly #drafts = new Map<string, Draft>()
  readonly #listeners = new Set<() => void>()
  readonly #storage: DraftStorage
  #unsaved: readonly string[] = []

  constructor(storage: DraftStorage) {
    this.#storage = storage
    const stored = storage.read()
    if (typeof stored !== 'object' || stored === null) return
    for (const [hash, value] of Object.entries(stored)) {
      const parsed = recipeSchema.safeParse(value)
      if (parsed.success) this.#drafts.set(hash, beginHistory(parsed.data))
    }
    this.#unsaved = this.hashes().filter((hash) => this.#differs(hash))
  }

  readonly subscribe = (listener: () => void): (() => void) => {
    this.#listeners.add(listener)
    return () => this.#listeners.delete(listener)
  }

  /** The draft of a saved recipe; undefined while nothing was edited. */
  readonly get = (hash: string): Draft | undefined => this.#drafts.get(hash)

  hashes(): readonly string[] {
    return [...this.#drafts.keys()]
  }

  /** Saved recipes whose drafts have other parameters; the same array until that changes. */
  readonly unsaved = (): readonly string[] => this.#unsaved

  /** Changes the draft of a saved recipe. Back at the saved parameters it is kept only for its steps. */
  update(hash: string, saved: Recipe, change: (draft: Draft) => Draft): void {
    const before = this.#drafts.get(hash) ?? beginHistory(saved)
    const after = change(before)
    if (after === before) return
    this.#drafts.delete(hash)
    this.#drafts.set(hash, after)
    const [oldest] = this.#drafts.keys()
    if (this.#drafts.size > DRAFT_LIMIT && oldest !== undefined) this.#drafts.delete(oldest)
    this.#changed()
  }

  drop(hash: string): void {
    if (this.#drafts.delete(hash)) this.#changed()
  }

  #differs(hash: string): boolean {
    const draft = this.#drafts.get(hash)
    return draft !== undefined && recipeHash(draft.present) !== hash
  }

  #changed(): void {
    const unsaved = this.hashes().filter((hash) => this.#differs(hash))
    if (unsaved.join() !== this.#unsaved.join()) this.#unsaved = unsaved
    this.#storage.write(Object.fromEntries(unsaved.map((hash) => [hash, this.#drafts.get(hash)?.present])))
    for (const listener of this.#listeners) listener()
  }
}
