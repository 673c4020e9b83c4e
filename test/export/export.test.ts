import { chmod, mkdir, mkdtemp, readdir, readFile, rm, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { parse } from 'csv-parse/sync'
import { fc } from '../support/fast-check.ts'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import type { RawTrace } from '#shared/domain/capture.ts'
import { MEASURE_IDS } from '#shared/domain/measures.ts'
import { ALGORITHM } from '#shared/domain/result.ts'
import { cellStatistics } from '#shared/findings/matrix.ts'
import { guessMapping } from '#shared/import/guess.ts'
import { parseRecording } from '#shared/import/recording.ts'
import { csvText, tableFile, type Table } from '#main/export/csv.ts'
import { createExporter } from '#main/export/exporter.ts'
import { writeExport } from '#main/export/file.ts'
import { capturesTable, fileWord, matrixTable } from '#main/export/tables.ts'
import { traceTable } from '#main/export/trace.ts'
import { wholeText } from '../support/whole-file.ts'
import { capture, fakeStore, HASH, RECIPE, result } from './fake-store.ts'

const trace = (samples: Int16Array | Float32Array, more: Partial<RawTrace> = {}): RawTrace => ({
  format: samples instanceof Int16Array ? 'int16' : 'real32',
  samples,
  sampleRateHz: 50_000,
  scaleV: samples instanceof Int16Array ? 5 / 32_768 : 1,
  offsetV: 0,
  rangeV: 5,
  ...more,
})

const rowsOf = (text: string): Record<string, string>[] => parse(text, { columns: true })

let folder = ''
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'slewlight-export-'))
})
afterAll(() => rm(folder, { recursive: true }))

const text = (source: RawTrace, triggerIndex = 0): Promise<string> =>
  createExporter(fakeStore([{ info: capture(1, source, { triggerIndex }), trace: source, result: null, reviews: [] }]))
    .table({ what: 'trace', captureId: 1 })
    .then(wholeText)
    .then((file) => file.text)

describe('raw traces', () => {
  it('names the capture and puts time 0 at the trigger', async () => {
    const source = trace(Int16Array.of(0, 32_767, -32_768))
    const store = fakeStore([
      { info: capture(7, source, { repeat: 2, triggerIndex: 1 }), trace: source, result: null, reviews: [] },
    ])
    const file = await wholeText(await createExporter(store).table({ what: 'trace', captureId: 7 }))
    expect(file.name).toBe('invented-display_gentle-2_143.9hz_sweep-3_capture-7_0-to-255_r2_a1_trace.csv')
    expect(file.text).toBe('time_s,voltage_v\r\n-0.00002,0\r\n0,4.999847412109375\r\n0.00002,-5\r\n')
  })

  it('gives back every 16-bit code, rate and trigger through the import', async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.int16Array({ minLength: 16, maxLength: 400 }),
        fc.integer({ min: 500, max: 2_000_000 }),
        fc.constantFrom(0.1, 1, 5, 10, 3.3),
        fc.constantFrom(0, -0.1, 0.0123),
        fc.nat(15),
        async (codes, sampleRateHz, rangeV, offsetV, triggerIndex) => {
          const source = trace(Int16Array.from(codes), { sampleRateHz, scaleV: rangeV / 32_768, offsetV })
          const csv = await text(source, triggerIndex)
          const back = parseRecording(csv, guessMapping(csv).mapping)
          expect(back.trace.sampleRateHz).toBe(sampleRateHz)
          expect(back.triggerIndex).toBe(triggerIndex)
          const recovered = Int16Array.from(back.trace.samples as Float32Array, (v) =>
            Math.round((v - offsetV) / source.scaleV),
          )
          expect(recovered).toEqual(source.samples)
        },
      ),
      { numRuns: 60 },
    )
  })

  it('gives back 32-bit samples bit for bit', async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.float32Array({ minLength: 16, maxLength: 300, noNaN: true, noDefaultInfinity: true, min: -1000, max: 1000 }),
        async (values) => {
          const source = trace(Float32Array.from(values))
          const csv = await text(source)
          const back = parseRecording(csv, guessMapping(csv).mapping)
          // Text keeps the sign of zero no more than arithmetic does.
          expect(Array.from(back.trace.samples as Float32Array, (v) => v + 0)).toEqual(
            Array.from(source.samples, (v) => v + 0),
          )
        },
      ),
      { numRuns: 60 },
    )
  })
})

describe('matrix and captures', () => {
  const source = trace(Int16Array.from({ length: 20 }, (_, i) => i))
  const values = { transition_duration_s: 0.1 + 0.2, snr: 5e-324, in_window: 0 }
  const review = { captureId: 2, reason: 'Hum, "loud"', reviewer: 'R. =1+1', override: null, at: '' }
  const captures = [
    {
      info: capture(1, source),
      trace: source,
      result: result(values, {
        uncertainties: { transition_duration_s: 1.5e-5 },
        flags: [
          { id: 'hum', evidence: '', value: null, limit: null, unit: '', span: null },
          { id: 'clipped', evidence: '', value: null, limit: null, unit: '', span: null },
        ],
      }),
      reviews: [],
    },
    {
      info: capture(2, source, { source: 'C:\\records\\a;b\r\nc.csv' }),
      trace: source,
      result: result({}),
      reviews: [
        { ...review, id: 1, decision: 'exclude' as const, undone: false },
        { ...review, id: 2, decision: 'keep' as const, reason: 'taken back', undone: true },
      ],
    },
    { info: capture(3, source, { verdict: 'dropped-frame' }), trace: source, result: null, reviews: [] },
    {
      info: capture(4, source),
      trace: source,
      result: result({ snr: 7 }),
      reviews: [
        {
          ...review,
          id: 3,
          captureId: 4,
          decision: 'override' as const,
          reason: 'Drift',
          override: { crossLowS: 0.01 },
          undone: false,
        },
      ],
      note: 'Seen, "twice"',
    },
  ]

  it('has one row per capture with every measure, and reads back equal', async () => {
    const exporter = createExporter(fakeStore(captures))
    const file = await wholeText(await exporter.table({ what: 'captures', sweepId: 3, recipeHash: HASH }))
    expect(file.name).toBe(
      `invented-display_gentle-2_143.9hz_mine-quoted-and-long-${HASH.slice(0, 8)}_sweep-3_captures.csv`,
    )
    const rows = rowsOf(file.text)
    expect(rows.length).toBe(4)
    expect(Object.keys(rows[0] ?? {})).toEqual(expect.arrayContaining(MEASURE_IDS))
    expect(rows[0]).toMatchObject({
      campaign: 'Bench; one',
      setting: 'Gentle, +2',
      refresh_hz: '143.9',
      recipe: RECIPE.name,
      recipe_hash: HASH,
      algorithm: ALGORITHM,
      flags: 'hum clipped',
      review: '',
      verdict: 'good',
    })
    expect(Number(rows[0]?.['transition_duration_s'])).toBe(0.1 + 0.2)
    expect(Number(rows[0]?.['snr'])).toBe(5e-324)
    expect(rows[0]?.['in_window']).toBe('0')
    expect(rows[0]?.['arrival_s']).toBe('')
    expect(rows[0]?.['u_transition_duration_s']).toBe('0.000015')
    expect(JSON.parse(rows[0]?.['reasons'] ?? '')).toEqual({ overshoot_code: 'There is no ladder, "none"; really.' })
    expect(rows[1]).toMatchObject({
      source: 'C:\\records\\a;b\r\nc.csv',
      review: 'exclude',
      review_reason: 'Hum, "loud"',
    })
    expect(rows[2]).toMatchObject({ verdict: 'dropped-frame', transition_duration_s: '', reasons: '' })
    for (const row of rows.slice(0, 3))
      expect(row).toMatchObject({ overridden: '0', override: '', superseded: '0', note: '' })
    expect(rows[3]).toMatchObject({ review: 'override', snr: '7', overridden: '1', note: 'Seen, "twice"' })
    expect(JSON.parse(rows[3]?.['override'] ?? '')).toEqual({ crossLowS: 0.01 })
  })

  it('has one row per transition and measure with the numbers of the statistics', async () => {
    const data = {
      sweepId: 3,
      recipeHash: HASH,
      levels: [0, 255],
      unmeasured: 0,
      cells: [
        {
          from: 0,
          to: 255,
          entries: [0.011, 0.0113, 0.0109, 0.2].map((duration, i) => ({
            captureId: i + 1,
            repeat: i + 1,
            values: { transition_duration_s: duration },
            flagCount: i === 1 ? 1 : 0,
            excluded: i === 3,
            overridden: false,
          })),
        },
      ],
    }
    const store = fakeStore([], data)
    const file = await wholeText(await createExporter(store).table({ what: 'matrix', sweepId: 3, recipeHash: HASH }))
    const rows = rowsOf(file.text)
    expect(rows.length).toBe(2 * MEASURE_IDS.length)
    const [cell] = cellStatistics(data, 'transition_duration_s', 3)
    const row = rows.find((r) => r['measure'] === 'transition_duration_s' && r['from_code'] === '0')
    expect(Number(row?.['mean'])).toBe(cell?.mean)
    expect(Number(row?.['s'])).toBe(cell?.s)
    expect(row).toMatchObject({ unit: 's', to_code: '255', n: '3', u95: '', excluded: '1', flagged: '1', missing: '0' })
    expect(row?.['note']).toMatch(/No usable uncertainty/)
    const one = await matrixTable(store, { sweepId: 3, recipeHash: HASH, measures: ['overshoot_pct'] })
    expect(one.rows).toBe(2)
  })

  it('refuses a recipe that is not in the archive', async () => {
    await expect(capturesTable(fakeStore([]), { sweepId: 3, recipeHash: '0'.repeat(16) })).rejects.toMatchObject({
      code: 'not-found',
    })
  })

  it('keeps any text of a cell', async () => {
    await fc.assert(
      fc.asyncProperty(fc.array(fc.string({ unit: 'binary' }), { minLength: 2, maxLength: 5 }), async (cells) => {
        const table: Table = {
          name: 'x',
          columns: cells.map((_, i) => `c${i}`),
          rows: 1,
          async *batches() {
            yield [cells]
          },
        }
        const [back] = parse((await wholeText(tableFile(table))).text, {
          columns: false,
          from: 2,
          record_delimiter: '\r\n',
        })
        // Save for the apostrophe that keeps spreadsheets from running it.
        expect(back).toEqual(cells.map((cell) => (/^[=+\-@\t\r＝＋－＠]/.test(cell) ? `'${cell}` : cell)))
      }),
    )
  })

  it('makes file names that every system takes', () => {
    expect(fileWord('Größe 3/4: "strong"')).toBe('gro-e-3-4-strong')
    expect(fileWord('…')).toBe('unnamed')
  })
})

const table = (rows: number, made = rows): Table => ({
  name: 'x.csv',
  columns: ['a', 'b'],
  rows,
  async *batches() {
    for (let i = 0; i < made; i += 10) yield Array.from({ length: Math.min(10, made - i) }, (_, k) => [i + k, 'x'])
  },
})

describe('files', () => {
  it('writes every row, replaces the old file and reports progress', async () => {
    const path = join(folder, 'whole.csv')
    await writeFile(path, 'old')
    const seen: number[] = []
    const written = await writeExport(path, tableFile(table(25)), { onProgress: (rows) => seen.push(rows) })
    const text = await readFile(path, 'utf8')
    expect(written).toEqual({ path, done: 25, bytes: text.length })
    expect(rowsOf(text).length).toBe(25)
    expect(seen).toEqual([0, 10, 20, 25])
  })

  it('leaves the old file and nothing else when cancelled, short of rows, or failing', async () => {
    const own = join(folder, 'kept')
    await mkdir(own)
    const path = join(own, 'kept.csv')
    await writeFile(path, 'old')
    const abort = new AbortController()
    const cancelled = writeExport(path, tableFile(table(1000)), {
      signal: abort.signal,
      onProgress: (rows) => rows > 50 && abort.abort(),
    })
    await expect(cancelled).rejects.toMatchObject({ code: 'cancelled' })
    await expect(writeExport(path, tableFile(table(30, 29)))).rejects.toThrow(/has 29 rows, but 30 were expected/)
    const broken: Table = {
      ...table(5),
      async *batches() {
        yield [[1, 'x']]
        throw new Error('the archive went away')
      },
    }
    await expect(writeExport(path, tableFile(broken))).rejects.toThrow(/went away/)
    expect(await readdir(own)).toEqual(['kept.csv'])
    expect(await readFile(path, 'utf8')).toBe('old')
  })

  it('says why a place cannot be written', async () => {
    await expect(writeExport(join(folder, 'absent', 'x.csv'), tableFile(table(1)))).rejects.toMatchObject({
      code: 'invalid-input',
      message: expect.stringContaining('its folder does not exist') as string,
    })
    await mkdir(join(folder, 'a-folder'))
    await expect(writeExport(join(folder, 'a-folder'), tableFile(table(1)))).rejects.toMatchObject({
      code: 'invalid-input',
    })
    if (process.getuid?.() === 0) return // root may write everywhere
    await chmod(join(folder, 'a-folder'), 0o500)
    await expect(writeExport(join(folder, 'a-folder', 'x.csv'), tableFile(table(1)))).rejects.toThrow(/not permitted/)
  })

  it('reports a full disk and leaves nothing behind', async () => {
    // /dev/full answers every write with ENOSPC; other systems have no such file.
    const full = await traceTable(
      fakeStore([
        { info: capture(1, trace(new Int16Array(20))), trace: trace(new Int16Array(20)), result: null, reviews: [] },
      ]),
      1,
    )
    const failing: Table = {
      ...full,
      async *batches() {
        yield [[0, 0]]
        throw Object.assign(new Error('no space left on device'), { code: 'ENOSPC' })
      },
    }
    await expect(writeExport(join(folder, 'full.csv'), tableFile(failing))).rejects.toMatchObject({
      code: 'archive-disk-full',
    })
    expect((await readdir(folder)).filter((name) => name.includes('full'))).toEqual([])
  })
})

describe('texts that a spreadsheet would run', () => {
  it('have an apostrophe in front; numbers and all other texts are as they are', () => {
    const formulas = ['=1+1', '+1', '-1', '@SUM(A1)', '\t=1', '\r=1', '＝1']
    const others = ["'quoted", 'a=b', '0-255', '→', '', ' =1', '{"a":1}']
    const text = csvText([
      [...formulas, -1.5, null],
      [...others, 2, null],
    ])
    const [first, second] = parse(text, { relax_column_count: true })
    expect(first).toEqual([...formulas.map((formula) => `'${formula}`), '-1.5', ''])
    expect(second).toEqual([...others, '2', ''])
  })
})
