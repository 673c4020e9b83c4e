/** The list of captures against a plain model: every filter, every order, every page. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import type { Verdict } from '../../src-shared/domain/capture.ts'
import { MEASURE_IDS, type MeasureId } from '../../src-shared/domain/measures.ts'
import type { FlagId } from '../../src-shared/domain/result.ts'
import type { CaptureFilter, ReviewDecision } from '../../src-shared/domain/views.ts'
import type { Store } from '../../src-main/core/ports.ts'
import { seededRandom } from '../../src-shared/domain/seeded-random.ts'
import {
  filter,
  HASH,
  openTestStore,
  temporaryFolder,
  testCapture,
  testFlag,
  testResult,
  testSweep,
} from './fixtures.ts'

interface Model {
  id: number
  campaignId: number
  sweepId: number
  from: number
  to: number
  verdict: Verdict
  flags: FlagId[]
  review: ReviewDecision | null
  noted: boolean
  values: Partial<Record<MeasureId, number | null>> | null
}

const COUNT = 240
const LEVELS = [0, 128, 255]
const folder = temporaryFolder()
const model: Model[] = []
let store: Store

beforeAll(async () => {
  store = await openTestStore(`${folder.path}/archive.slewlight`)
  const next = seededRandom(42)
  const pick = <T>(of: readonly T[]): T => of[Math.floor(next() * of.length)] as T
  const sweeps = [await testSweep(store), await testSweep(store), await testSweep(store)]
  for (let position = 0; position < COUNT; position++) {
    const { campaignId, sweepId } = pick(sweeps)
    const from = pick(LEVELS)
    const to = pick(LEVELS.filter((level) => level !== from))
    const verdict: Verdict = next() < 0.8 ? 'good' : pick(['dropped-frame', 'gapped', 'no-edge'])
    const flags = (['hum', 'clipped', 'small-step'] as const).filter(() => next() < 0.2)
    // Few different numbers, so that there are ties; some undefined.
    const values = { snr: pick([null, 1, 2, 3]), arrival_s: next() * 0.01 }
    const measured = next() < 0.75
    const result = measured
      ? testResult(
          values,
          flags.map((flag) => testFlag(flag)),
        )
      : null
    const { id } = await store.addCapture(testCapture(sweepId, position, { from, to, verdict }), result)
    const review =
      next() < 0.3
        ? pick(verdict === 'good' ? (['keep', 'exclude', 'retake'] as const) : (['keep', 'exclude'] as const))
        : null
    if (review !== null)
      await store.addReview({ captureId: id, decision: review, reason: 'Invented.', reviewer: 'A', override: null })
    // Some notes stand, some were taken away again.
    const noted = next() < 0.2
    if (noted || next() < 0.1) await store.addNote({ captureId: id, text: 'Invented.', reviewer: 'A' })
    if (!noted) await store.addNote({ captureId: id, text: '', reviewer: 'A' })
    model.push({
      id,
      campaignId,
      sweepId,
      from,
      to,
      verdict,
      flags: measured ? flags : [],
      review,
      noted,
      values: measured ? values : null,
    })
  }
})
afterAll(async () => {
  await store.close()
  folder.remove()
})

/** Undefined values come after defined ones, captures without any result last. */
const rank = (value: number | null, row: Model): number => (row.values === null ? 2 : value === null ? 1 : 0)

function expected(asked: CaptureFilter): number[] {
  const { by, descending } = asked.sort
  const sign = descending ? -1 : 1
  const key = (row: Model): number | null =>
    row.values === null ? null : by === 'flags' ? row.flags.length : by === 'id' ? row.id : (row.values[by] ?? null)
  return model
    .filter(
      (row) =>
        (asked.sweepId === undefined || row.sweepId === asked.sweepId) &&
        (asked.campaignId === undefined || row.campaignId === asked.campaignId) &&
        (asked.from === undefined || row.from === asked.from) &&
        (asked.to === undefined || row.to === asked.to) &&
        (asked.verdict === undefined || row.verdict === asked.verdict) &&
        (asked.flag === undefined || row.flags.includes(asked.flag)) &&
        (asked.doubtful !== true || (row.flags.length > 0 && row.review === null)) &&
        (asked.noted === undefined || row.noted === asked.noted) &&
        (asked.review === undefined || (row.review ?? 'none') === asked.review),
    )
    .sort((a, b) => {
      if (by === 'id') return sign * (a.id - b.id)
      const [x, y] = [key(a), key(b)]
      return rank(x, a) - rank(y, b) || sign * ((x ?? 0) - (y ?? 0)) || a.id - b.id
    })
    .map((row) => row.id)
}

const some = <T>(values: readonly T[], next: () => number): T | undefined =>
  next() < 0.65 ? undefined : values[Math.floor(next() * values.length)]

describe('list of captures', () => {
  it('agrees with the model for 250 random questions, page by page', async () => {
    const next = seededRandom(7)
    for (let n = 0; n < 250; n++) {
      const row = model[Math.floor(next() * COUNT)]
      const question = {
        sweepId: some([row?.sweepId ?? 1], next),
        campaignId: some([row?.campaignId ?? 1], next),
        from: some(LEVELS, next),
        to: some(LEVELS, next),
        verdict: some(['good', 'dropped-frame', 'gapped', 'no-edge'] as const, next),
        flag: some(['hum', 'clipped', 'small-step'] as const, next),
        doubtful: some([true, false], next),
        noted: some([true, false], next),
        review: some(['none', 'keep', 'exclude', 'retake', 'override'] as const, next),
        sort: some(
          (['id', 'flags', 'snr', 'arrival_s'] as const).flatMap((by) => [
            { by, descending: false },
            { by, descending: true },
          ]),
          next,
        ),
      }
      const given = Object.fromEntries(Object.entries(question).filter(([, value]) => value !== undefined))
      const whole = filter({ ...given, limit: 5000 })
      const ids = expected(whole)
      const all = await store.captures(whole)
      expect({ given, total: all.total, ids: all.rows.map((r) => r.info.id) }).toEqual({
        given,
        total: ids.length,
        ids,
      })
      const offset = Math.floor(next() * (ids.length + 3))
      const page = await store.captures({ ...whole, offset, limit: 17 })
      expect(page.total).toBe(ids.length)
      expect(page.rows.map((r) => r.info.id)).toEqual(ids.slice(offset, offset + 17))
    }
  })

  it('finds places and neighbours in any list, also of captures that have left it', async () => {
    const next = seededRandom(11)
    for (let n = 0; n < 120; n++) {
      const asked = filter({
        ...(next() < 0.5 ? { doubtful: true } : next() < 0.5 ? { review: 'none' as const } : { noted: false }),
        ...(next() < 0.5 ? { sweepId: model[Math.floor(next() * COUNT)]?.sweepId ?? 1 } : {}),
        ...(next() < 0.5 ? { sort: { by: 'arrival_s' as const, descending: next() < 0.5 } } : {}),
      })
      const ids = expected(asked)
      const { doubtful: _doubtful, review: _review, noted: _noted, ...wider } = asked
      const order = expected(wider)
      const { id } = model[Math.floor(next() * COUNT)] as Model
      const index = ids.indexOf(id)
      expect(await store.position({ filter: asked, captureId: id })).toEqual(
        index < 0 ? null : { captureId: id, index, total: ids.length },
      )
      const at = order.indexOf(id)
      const after = order.slice(at + 1).find((other) => ids.includes(other))
      const before = order.slice(0, Math.max(0, at)).findLast((other) => ids.includes(other))
      const place = (found: number | undefined): unknown =>
        found === undefined ? null : { captureId: found, index: ids.indexOf(found), total: ids.length }
      // From a capture of elsewhere the list is entered at its ends.
      expect(await store.neighbour({ filter: asked, captureId: id, direction: 'next' })).toEqual(
        place(at < 0 ? ids[0] : after),
      )
      expect(await store.neighbour({ filter: asked, captureId: id, direction: 'previous' })).toEqual(
        place(at < 0 ? ids.at(-1) : before),
      )
    }
  })

  it('orders by every measure', async () => {
    for (const by of MEASURE_IDS) {
      const { rows } = await store.captures(filter({ sort: { by, descending: true }, limit: 5000 }))
      const values = rows.flatMap((row) => row.values?.[by] ?? [])
      expect(values).toEqual(values.toSorted((a, b) => b - a))
      expect(rows).toHaveLength(COUNT)
    }
  })

  it('gives whole rows', async () => {
    const { rows } = await store.captures(filter({ limit: 5000 }))
    for (const [i, row] of rows.entries()) {
      const { id, flags, review, noted, values } = model[i] as Model
      expect(row).toMatchObject({ info: { id }, flags, review, noted, overridden: false, superseded: false })
      if (values === null) expect(row.values).toBeNull()
      else expect(row.values).toEqual(testResult(values).values)
      expect(row.info).toEqual(await store.capture(id))
    }
  })

  it('takes text of any kind as a value, never as SQL', async () => {
    const hostile = "x' OR 1=1; DROP TABLE capture; --"
    const nothing = await store.captures({ ...filter(), recipeHash: hostile, flag: hostile as FlagId })
    expect(nothing).toEqual({ rows: [], total: 0 })
    const sorted = await store.captures({ ...filter(), sort: { by: hostile as MeasureId, descending: false } })
    expect(sorted.total).toBe(COUNT)
    expect((await store.info()).captures).toBe(COUNT)
    expect(await store.unmeasured(HASH, {})).not.toEqual([])
  })
})
