import { describe, expect, it } from 'vitest'
import { DEFAULT_RECIPE, recipeHash, type Recipe } from '#shared/domain/recipe.ts'
import { DraftBook, editDraft, type Draft } from '../../src-renderer/features/recipes/draft.ts'
import { beginHistory, redoEdit as redoDraft, undoEdit as undoDraft } from '../../src-renderer/ui/undo-history.ts'
import { freeName } from '../../src-renderer/features/recipes/save-form.tsx'

const dark = (darkCode: number): Recipe => ({ ...DEFAULT_RECIPE, darkCode })
const limit = (overshootLimitPct: number): Recipe => ({ ...DEFAULT_RECIPE, overshootLimitPct })
const HASH = recipeHash(DEFAULT_RECIPE)

describe('edits of a recipe', () => {
  it('takes the moves of one slider as one step, another field or a pause as the next', () => {
    let draft: Draft = beginHistory(DEFAULT_RECIPE)
    draft = editDraft(draft, 'darkCode', dark(103), 1000)
    draft = editDraft(draft, 'darkCode', dark(104), 1100)
    draft = editDraft(draft, 'darkCode', dark(110), 1900)
    expect(draft.past.map(({ value }) => value)).toEqual([DEFAULT_RECIPE])
    draft = editDraft(draft, 'overshootLimitPct', { ...dark(110), overshootLimitPct: 6 }, 2000)
    draft = editDraft(draft, 'overshootLimitPct', { ...dark(110), overshootLimitPct: 7 }, 9000)
    expect(draft.past.map(({ value: { darkCode, overshootLimitPct } }) => [darkCode, overshootLimitPct])).toEqual([
      [102, 5],
      [110, 5],
      [110, 6],
    ])
  })

  it('undoes and redoes in order; a new edit ends what could be redone', () => {
    let draft = editDraft(beginHistory(DEFAULT_RECIPE), 'a', dark(1), 0)
    draft = editDraft(draft, 'b', limit(2), 0)
    draft = undoDraft(draft)
    expect(draft.present).toEqual(dark(1))
    draft = undoDraft(draft)
    expect(draft.present).toEqual(DEFAULT_RECIPE)
    expect(undoDraft(draft)).toBe(draft)
    draft = redoDraft(redoDraft(draft))
    expect(draft.present).toEqual(limit(2))
    expect(redoDraft(draft)).toBe(draft)
    draft = editDraft(undoDraft(draft), 'c', dark(9), 0)
    expect(redoDraft(draft)).toBe(draft)
    expect(undoDraft(draft).present).toEqual(dark(1))
  })

  it('counts no edit that leaves the parameters alone', () => {
    const draft: Draft = beginHistory(DEFAULT_RECIPE)
    expect(editDraft(draft, 'a', { ...DEFAULT_RECIPE, name: 'Another' }, 0)).toBe(draft)
  })

  it('keeps a bounded history', () => {
    let draft: Draft = beginHistory(DEFAULT_RECIPE)
    for (let i = 0; i < 1000; i++) draft = editDraft(draft, `field ${i}`, dark(i % 255), i)
    expect(draft.past).toHaveLength(200)
  })
})

describe('the book of drafts', () => {
  it('stores what is unsaved, reads it again, and forgets what is back at the saved parameters', () => {
    let stored: unknown = null
    const storage = { read: () => stored, write: (value: unknown) => (stored = value) }
    const book = new DraftBook(storage)
    book.update(HASH, DEFAULT_RECIPE, (draft) => editDraft(draft, 'a', dark(3), 0))
    expect(book.unsaved()).toEqual([HASH])
    stored = JSON.parse(JSON.stringify(stored)) as unknown
    expect(new DraftBook(storage).get(HASH)?.present).toEqual(dark(3))
    book.update(HASH, DEFAULT_RECIPE, undoDraft)
    expect(stored).toEqual({})
    expect(book.unsaved()).toEqual([])
    expect(redoDraft(book.get(HASH) ?? beginHistory(DEFAULT_RECIPE)).present).toEqual(dark(3))
  })

  it.each([null, 7, 'text', [], { [HASH]: { darkCode: 'many' } }])('starts empty from %j', (value) => {
    expect(new DraftBook({ read: () => value, write: () => undefined }).hashes()).toEqual([])
  })

  it('holds so many drafts and lets the oldest go', () => {
    const book = new DraftBook({ read: () => null, write: () => undefined })
    for (let i = 0; i < 30; i++) book.update(`saved ${i}`, DEFAULT_RECIPE, (draft) => editDraft(draft, 'a', dark(i), 0))
    expect(book.hashes()).toHaveLength(20)
    expect(book.hashes()[0]).toBe('saved 10')
  })
})

describe('a free name', () => {
  it('is one that no recipe has and that the schema takes', () => {
    expect(freeName('Mine', ['Mine'])).toBe('Mine, variant')
    expect(freeName('Mine, variant', ['Mine', 'Mine, variant'])).toBe('Mine, variant 2')
    expect(freeName('x'.repeat(80), []).length).toBeLessThanOrEqual(80)
  })
})
