/** Recordings into the archive: what is stored, what is left out, and that the numbers are those of the same path. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, afterEach, beforeEach, describe, expect, it } from 'vitest'
import { commitImport, previewImport } from '#main/core/import.ts'
import type { Store } from '#main/core/ports.ts'
import { createClock } from '#main/platform/clock.ts'
import { openStore } from '#main/store/store.ts'
import type { ImportRequest } from '#shared/domain/import.ts'
import { DEFAULT_RECIPE, recipeHash } from '#shared/domain/recipe.ts'
import { guessMapping } from '#shared/import/guess.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { AppError } from '#shared/domain/errors.ts'
import { captureFilterSchema, type CaptureFilter } from '#shared/domain/views.ts'
import { SILENT } from '../support/bench-core.ts'
import { createStoreWorker } from '../support/workers.ts'

const HASH = recipeHash(DEFAULT_RECIPE)
const clock = createClock()
const folder = mkdtempSync(join(tmpdir(), 'slewlight-import-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

let store: Store
let campaignId: number
let count = 0
beforeEach(async () => {
  count += 1
  store = await openStore({
    path: join(folder, `${count}.sqlite`),
    createWorker: createStoreWorker,
    clock,
    log: SILENT,
  })
  campaignId = (await store.createCampaign({ name: 'Invented', display: '', note: '' })).id
})
afterEach(() => store.close())

const TAU = 0.004
const RATE = 10_000
function recording(from: number, to: number, change: { skip?: number; flat?: boolean } = {}): string {
  const [low, high] = [from / 100, to / 100]
  const rows = Array.from({ length: 3000 }, (_, i) => {
    const t = (i - 1000) / RATE
    return `${t},${t < 0 || change.flat === true ? low : high + (low - high) * Math.exp(-t / TAU)}`
  })
  return ['time_s,voltage_v', ...rows.filter((_, i) => i !== change.skip)].join('\n')
}
const file = (
  name: string,
  from: number,
  to: number,
  text = recording(from, to),
  repeat = 1,
): ImportRequest['files'][number] => ({
  name,
  text,
  mapping: guessMapping(recording(0, 255)).mapping,
  from,
  to,
  repeat,
})
const request = (...files: ImportRequest['files']): ImportRequest => ({
  campaignId,
  setting: 'Off',
  refreshHz: 60,
  files,
})
const filter = (): CaptureFilter => captureFilterSchema.parse({ recipeHash: HASH })
const deps = (): Parameters<typeof commitImport>[0] => ({
  store,
  clock,
  recipe: DEFAULT_RECIPE,
  measure: async (input) => measureCapture(input),
})

describe('import of recordings', () => {
  it('stores them as a finished sweep whose captures are measured', async () => {
    const summary = await commitImport(
      deps(),
      request(file('a.csv', 0, 255), file('b.csv', 255, 0), file('c.csv', 0, 255, recording(0, 255), 2)),
    )
    expect(summary).toEqual({ sweepId: 1, captures: 3, good: 3, problems: [] })
    const sweep = await store.sweep({ sweepId: 1 })
    expect(sweep).toMatchObject({ origin: 'imported', state: 'finished', total: 3, done: 3 })
    expect(sweep.plan).toMatchObject({ levels: [0, 255], repeats: 2, refreshHz: 60, sampleRateHz: RATE, preS: 0.1 })
    const matrix = await store.matrix({ sweepId: 1, recipeHash: HASH, measures: ['transition_duration_s'] })
    expect(matrix.cells.map(({ from, to, entries }) => [from, to, entries.length])).toEqual([
      [0, 255, 2],
      [255, 0, 1],
    ])
    // 10–90 % of a first-order step lasts τ · ln 9 (closed form).
    for (const { entries } of matrix.cells)
      for (const entry of entries)
        expect(Math.abs(Number(entry.values.transition_duration_s) / (TAU * Math.log(9)) - 1)).toBeLessThan(2e-3)
    const info = await store.capture(1)
    expect(info).toMatchObject({ source: 'a.csv', verdict: 'good', triggerIndex: 1000, sampleCount: 3000 })
    const trace = await store.trace(1)
    expect(trace.samples[0]).toBe(0)
    expect(trace.samples[2999]).toBe(Math.fround(Number(recording(0, 255).split('\n')[3000]?.split(',')[1])))
  })

  it('leaves out what cannot be read, names it with its line, and goes on', async () => {
    const broken = recording(0, 128).replace('\n0.01,', '\n0.01,OVLD')
    const summary = await commitImport(deps(), request(file('bad.csv', 0, 128, broken), file('good.csv', 0, 255)))
    expect(summary).toMatchObject({ captures: 1, good: 1, problems: [{ name: 'bad.csv', kept: false }] })
    expect(summary.problems[0]?.problem).toMatch(/^bad\.csv: Line 1102: /)
    // The transition that failed is part of the sweep and counts as missing.
    expect((await store.sweep({ sweepId: 1 })).plan.levels).toEqual([0, 128, 255])
  })

  it('stores nothing when no file can be read', async () => {
    const work = commitImport(deps(), request(file('bad.csv', 0, 255, 'nothing,here\n'), file('worse.csv', 255, 0, '')))
    await expect(work).rejects.toMatchObject({
      code: 'import-unreadable',
      message: expect.stringMatching(/^bad\.csv: /) as string,
    })
    expect(await store.sweeps({})).toEqual([])
  })

  it('keeps gapped records and records without a transition out of the matrix and says so', async () => {
    const summary = await commitImport(
      deps(),
      request(
        file('gap.csv', 0, 255, recording(0, 255, { skip: 500 })),
        file('flat.csv', 255, 0, recording(255, 0, { flat: true })),
        file('good.csv', 0, 255, recording(0, 255), 2),
      ),
    )
    expect(summary).toMatchObject({ captures: 3, good: 1 })
    expect(summary.problems.every(({ kept, remedy }) => kept && remedy !== '')).toBe(true)
    expect(summary.problems.map(({ name }) => name)).toEqual(['gap.csv', 'flat.csv'])
    expect(summary.problems[0]?.problem).toMatch(/1 sample is missing/)
    expect((await store.capture(1)).verdict).toBe('gapped')
    expect((await store.capture(2)).verdict).toBe('no-edge')
    const matrix = await store.matrix({ sweepId: 1, recipeHash: HASH, measures: ['transition_duration_s'] })
    expect(matrix.cells.flatMap(({ entries }) => entries.map(({ captureId }) => captureId))).toEqual([3])
  })

  it('shows nothing in the lists when cancelled, and can be put back', async () => {
    const abort = new AbortController()
    const files = Array.from({ length: 5 }, (_, i) => file(`${i}.csv`, 0, 255, recording(0, 255), i + 1))
    const work = commitImport(
      { ...deps(), onProgress: ({ done }) => done === 2 && abort.abort() },
      request(...files),
      abort.signal,
    )
    await expect(work).rejects.toMatchObject({
      code: 'cancelled',
      message: 'The import was cancelled after 2 captures, which are hidden.',
    })
    expect(await store.sweep({ sweepId: 1 })).toMatchObject({ state: 'stopped', done: 2, hidden: true })
    expect(await store.sweeps({})).toEqual([])
    expect(await store.captures(filter())).toMatchObject({ rows: [], total: 0 })
    await store.setSweepHidden(1, false)
    expect((await store.sweeps({})).map(({ id }) => id)).toEqual([1])
    expect((await store.captures(filter())).total).toBe(2)
  })

  it('stores nothing when cancelled before the first recording is stored', async () => {
    const abort = new AbortController()
    abort.abort()
    await expect(commitImport(deps(), request(file('a.csv', 0, 255)), abort.signal)).rejects.toThrow(
      /nothing was stored/,
    )
    expect(await store.sweeps({ includeHidden: true })).toEqual([])
  })

  it('shows nothing in the lists when the archive fails half-way, and says why in the sweep', async () => {
    let stored = 0
    const failing = new Proxy(store, {
      get: (target, key: keyof Store) =>
        key === 'addCapture' && ++stored > 2
          ? () => Promise.reject(new AppError('archive-disk-full', 'The disk is full.', 'Free space.'))
          : target[key],
    })
    const files = [1, 2, 3].map((repeat) => file(`${repeat}.csv`, 0, 255, recording(0, 255), repeat))
    await expect(commitImport({ ...deps(), store: failing }, request(...files))).rejects.toThrow(/disk is full/)
    expect(await store.sweeps({})).toEqual([])
    expect(await store.sweep({ sweepId: 1 })).toMatchObject({
      state: 'failed',
      reason: 'The disk is full.',
      hidden: true,
      done: 2,
    })
  })

  it('takes recordings shorter and slower than any plan', async () => {
    const rows = Array.from({ length: 40 }, (_, i) => `${(i - 10) * 0.01},${i < 10 ? 0 : 1}`)
    const summary = await commitImport(
      deps(),
      request(file('short.csv', 0, 255, ['time_s,voltage_v', ...rows].join('\n'))),
    )
    expect(summary.captures).toBe(1)
    expect(await store.capture(1)).toMatchObject({ sampleCount: 40, sampleRateHz: 100 })
  })

  it('reads a text only when its turn comes', async () => {
    const order: string[] = []
    const late = (name: string, repeat: number): ImportRequest['files'][number] => ({
      ...file(name, 0, 255, '', repeat),
      text: async () => {
        order.push(`read ${name}`)
        return recording(0, 255)
      },
    })
    await commitImport(
      { ...deps(), onProgress: ({ captures }) => order.push(`stored ${captures}`) },
      request(late('a.csv', 1), late('b.csv', 2)),
    )
    expect(order).toEqual(['read a.csv', 'stored 1', 'read b.csv', 'stored 2'])
  })

  it('refuses requests that make no sense before anything is stored', async () => {
    const twice = commitImport(deps(), request(file('a.csv', 0, 255), file('b.csv', 0, 255)))
    await expect(twice).rejects.toThrow(/repeat 1 of 0→255 is given twice/)
    await expect(commitImport(deps(), request(file('a.csv', 7, 7)))).rejects.toThrow(/both levels are 7/)
    const many = Array.from({ length: 40 }, (_, i) => file(`${i}.csv`, i, i + 1))
    await expect(commitImport(deps(), request(...many))).rejects.toThrow(/41 different levels/)
    expect(await store.sweeps({})).toEqual([])
  })

  it('previews a long file without holding up the thread for long', async () => {
    const rows = Array.from({ length: 200_000 }, (_, i) => `${(i / 1e6).toFixed(6)},${(i % 1000) / 500}`)
    const gaps: number[] = []
    let last = performance.now()
    const timer = setInterval(() => {
      const now = performance.now()
      gaps.push(now - last)
      last = now
    }, 1)
    const preview = await previewImport(clock, '0-255.csv', ['time_s,voltage_v', ...rows].join('\n'), null)
    clearInterval(timer)
    expect(preview).toMatchObject({ sampleCount: 200_000, sampleRateHz: 1_000_000 })
    // Ten pauses at least; read in one go there would be none.
    expect(gaps.length).toBeGreaterThanOrEqual(9)
  })

  it('tells what is wrong with a text beside its columns, and rejects what is no text by name', async () => {
    const letter = await previewImport(clock, 'scope.csv', 'a letter, and more\nof it', null, 100)
    expect(letter).toMatchObject({
      problem: { code: 'import-unreadable', message: expect.stringMatching(/^No table/) as string },
      columns: [{ sample: ['a letter', 'of it'] }, { sample: ['and more', ''] }],
      envelope: null,
      sampleCount: 0,
    })
    await expect(previewImport(clock, 'scope.pdf', '%PDF\0', null)).rejects.toThrow(/^scope\.pdf: This is not a text/)
  })

  it('draws every sample of a preview in as many columns as asked', async () => {
    const { envelope, triggerIndex } = await previewImport(clock, '0-255.csv', recording(0, 255), null, 200)
    expect(triggerIndex).toBe(1000)
    expect(envelope?.min.length).toBeLessThanOrEqual(200)
    expect(Math.min(...(envelope?.min ?? []))).toBe(0)
    expect(Math.max(...(envelope?.max ?? []))).toBeCloseTo(2.55, 2)
  })
})
