/** The Import screen without its screen: what is read from names, set by hand, missing, undone, and brought to the host. */
import { fc } from '../support/fast-check.ts'
import { describe, expect, it } from 'vitest'
import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import { MAX_STAGED_PIECE_BYTES, type ImportMapping, type ImportPreview } from '#shared/domain/import.ts'
import { readerOfPattern } from '#shared/import/name-pattern.ts'
import { linkedSweep } from '../../src-renderer/navigation/linked-sweep.ts'
import { ImportDesk } from '../../src-renderer/features/import/desk.ts'
import {
  blockersOf,
  createRowKeeper,
  NOTHING_BY_HAND,
  readerOf,
  rowsOf,
  startOf,
  withChange,
  type ByHand,
  type Entry,
  type Reading,
  type Row,
} from '../../src-renderer/features/import/desk-model.ts'
import { added, changed, edit, NO_HISTORY, removed } from '../../src-renderer/features/import/edits.ts'
import { redoEdit as redo, undoEdit as undo } from '../../src-renderer/ui/undo-history.ts'
import { FileReading, type FileCalls } from '../../src-renderer/features/import/read-files.ts'

const MAPPING: ImportMapping = {
  delimiter: ',',
  decimal: '.',
  headerLines: 1,
  timeColumn: 0,
  timeScaleS: 1,
  voltageColumn: 1,
  voltageScaleV: 1,
  sampleIntervalS: null,
}
const preview = (change: Partial<ImportPreview> = {}): ImportPreview => ({
  mapping: MAPPING,
  columns: [],
  header: [],
  sampleCount: 1000,
  sampleRateHz: 10_000,
  startS: 0,
  triggerIndex: 0,
  minV: 0,
  maxV: 1,
  envelope: null,
  guess: null,
  warnings: [],
  problem: null,
  ...change,
})
const entry = (key: number, name: string, hand: Partial<ByHand> = {}): Entry => ({
  key,
  name,
  bytes: 100,
  hand: { ...NOTHING_BY_HAND, ...hand },
})
const readAll = (entries: readonly Entry[], change: Partial<ImportPreview> = {}): ReadonlyMap<number, Reading> =>
  new Map(entries.map(({ key }) => [key, { kind: 'read', fileId: `file ${key}`, preview: preview(change) }]))
const plain = readerOf({ kind: 'plain', text: '' }).read
const rows = (...entries: Entry[]): readonly Row[] => rowsOf(entries, readAll(entries), plain)
const brief = ({ from, to, repeat, state }: Row): unknown[] => [from, to, repeat, state]

describe('levels and repeats', () => {
  it('come from the names, repeats without a number being the next that is free', () => {
    expect(
      rows(entry(1, 'a_0-255.csv'), entry(2, 'b_0-255_r1.csv'), entry(3, 'c_0-255.csv'), entry(4, 'd_255-0.csv')).map(
        brief,
      ),
    ).toEqual([
      [0, 255, 2, 'ready'],
      [0, 255, 1, 'ready'],
      [0, 255, 3, 'ready'],
      [255, 0, 1, 'ready'],
    ])
  })

  it('of the same repeat number in two names are numbered on instead of being refused', () => {
    expect(rows(entry(1, 'x/0-255_r2.csv'), entry(2, 'y/0-255_r2.csv')).map(brief)).toEqual([
      [0, 255, 2, 'ready'],
      [0, 255, 1, 'ready'],
    ])
  })

  it('by hand go before those of the name, and say so when they are wrong', () => {
    const [by, wrong, same, twice, again, number] = rows(
      entry(1, '0-255.csv', { from: ' 51 ' }),
      entry(2, '0-255.csv', { to: '256' }),
      entry(3, '0-255.csv', { to: '0' }),
      entry(4, '10-20.csv', { repeat: '7' }),
      entry(5, '10-20.csv', { repeat: '7' }),
      entry(6, '10-20.csv', { repeat: 'x' }),
    )
    expect(by && brief(by)).toEqual([51, 255, 1, 'ready'])
    expect(wrong).toMatchObject({ state: 'levels', problem: '“256” is not a grey-level code from 0 to 255.' })
    expect(same).toMatchObject({ state: 'levels', problem: 'Both levels are 0.' })
    expect(twice).toMatchObject({ state: 'repeat', problem: 'Repeat 7 of 10 → 20 is given twice.' })
    expect(again?.state).toBe('repeat')
    expect(number).toMatchObject({ state: 'repeat', problem: '“x” is not a repeat number.' })
  })

  it('never give two ready recordings the same place', () => {
    const text = fc.constantFrom('', '', '0', '51', '255', '300', 'x')
    const name = fc.constantFrom('0-255.csv', '0-255_r1.csv', '0-255_r2.csv', '255-0.csv', 'nameless.csv')
    fc.assert(
      fc.property(
        fc.array(fc.record({ name, from: text, to: text, repeat: fc.constantFrom('', '', '1', '2', '5') }), {
          maxLength: 12,
        }),
        (given) => {
          const ready = rows(...given.map(({ name, ...hand }, key) => entry(key, name, hand))).filter(
            ({ state }) => state === 'ready',
          )
          expect(new Set(ready.map(({ from, to, repeat }) => `${from} ${to} ${repeat}`)).size).toBe(ready.length)
          for (const { from, to } of ready) expect(from).not.toBe(to)
        },
      ),
      { numRuns: 300 },
    )
  })
})

describe('a pattern for names', () => {
  it.each<[string, string, unknown[]]>([
    ['{from}-{to}', 'scope 12 0-255.csv', [0, 255, null]],
    ['{from}_{to}_run{repeat}', 'PANEL_0_255_RUN12.csv', [0, 255, 12]],
    ['L{from}*L{to}', 'L51 then L204.csv', [51, 204, null]],
    ['r{repeat}?{to}<{from}', 'r3_0<255', [255, 0, 3]],
    ['{from}-{to}', 'C:\\0-255\\51-204.csv', [51, 204, null]],
    ['{from}-{to}', '1000-255.csv', [null, null, null]],
    ['{from}-{to}', '0-300.csv', [null, null, null]],
    ['{from}-{to}', '7-7.csv', [null, null, null]],
    ['{ From }.({TO})', '1.(2)', [1, 2, null]],
  ])('%s reads %s', (pattern, name, expected) => {
    const read = readerOfPattern(pattern)
    if (typeof read !== 'function') throw new Error(read.problem)
    const { from, to, repeat } = read(name)
    expect([from, to, repeat]).toEqual(expected)
  })

  it.each([
    ['', /Both \{from\} and \{to\}/],
    ['{from}', /Both/],
    ['{from}-{to}-{from}', /twice/],
    ['{from}-{to}-{level}', /\{level\} is not known/],
    ['*a*b*c*d*e*{from}-{to}', /At most 5 stars/],
  ])('%s is refused in words', (pattern, problem) => {
    const read = readerOfPattern(pattern)
    expect(typeof read === 'function' ? '' : read.problem).toMatch(problem)
  })

  it('is never slow, whatever pattern and name', () => {
    const piece = fc.constantFrom('*', '?', '{from}', '{to}', '{repeat}', '0', '1', '.', '(', 'a', '+', '[')
    fc.assert(
      fc.property(fc.array(piece, { maxLength: 12 }), fc.string({ maxLength: 300 }), (pieces, name) => {
        const read = readerOfPattern(pieces.join(''))
        const at = process.threadCpuUsage()
        if (typeof read === 'function') read(name + '0'.repeat(300))
        expect(process.threadCpuUsage(at).user / 1000).toBeLessThan(1000)
      }),
      { numRuns: 300 },
    )
  })
})

describe('what keeps an import from starting', () => {
  const draft = { setting: 'Off', refresh: '143,9' }
  it('is said, and nothing else does', () => {
    expect(blockersOf([], { setting: '', refresh: '' }, null)).toEqual([
      'Choose recordings.',
      'Create or choose a campaign.',
      'Name the setting.',
      'Give the refresh rate.',
    ])
    const good = rows(entry(1, '0-255.csv'))
    expect(blockersOf(good, draft, 1)).toEqual([])
    expect(blockersOf(good, { ...draft, refresh: '5' }, 1)).toEqual([
      'The refresh rate is a number from 10 to 1000 Hz.',
    ])
    expect(blockersOf(rows(entry(1, 'nameless.csv')), draft, 1)).toEqual([
      'No recording can be imported yet: see the list.',
    ])
    const waiting = rowsOf([entry(1, '0-255.csv')], new Map(), plain)
    expect(blockersOf(waiting, draft, 1)).toEqual(['Wait until a recording is read.'])
    const many = rows(...Array.from({ length: 40 }, (_, i) => entry(i, `${i}-${i + 1}.csv`)))
    expect(blockersOf(many, draft, 1)[0]).toMatch(/at most 33 different levels/)
  })

  it('leaves those out that are not ready', () => {
    const entries = [entry(1, '0-255.csv'), entry(2, 'nameless.csv'), entry(3, '255-0.csv')]
    const mixed = rowsOf(
      entries,
      new Map([...readAll(entries), [3, { kind: 'failed', problem: toErrorDetail(new Error('no')) }]]),
      plain,
    )
    expect(startOf(mixed, draft, 4)).toEqual({
      keys: [1],
      campaignId: 4,
      setting: 'Off',
      refreshHz: 143.9,
      files: [{ fileId: 'file 1', name: '0-255.csv', mapping: MAPPING, from: 0, to: 255, repeat: 1 }],
    })
    expect(startOf(mixed, { ...draft, setting: ' ' }, 4)).toBeNull()
  })

  it('is the sample interval where no time column says it', () => {
    const [row] = rowsOf([entry(1, '0-255.csv')], readAll([entry(1, '')], { sampleRateHz: 0 }), plain)
    expect(row).toMatchObject({ state: 'interval', remedy: expect.stringContaining('sample interval') as string })
  })
})

describe('a mapping', () => {
  it('never has a comma both between columns and in numbers', () => {
    expect(withChange(MAPPING, { decimal: ',' })).toMatchObject({ decimal: ',', delimiter: ';' })
    expect(withChange({ ...MAPPING, decimal: ',', delimiter: ';' }, { delimiter: ',' })).toMatchObject({
      decimal: '.',
      delimiter: ',',
    })
  })
})

describe('edits of the list', () => {
  const one = { key: 1, name: 'a', bytes: 1 }
  it('are undone and redone one by one, typing into one field being one edit', () => {
    let history = edit(NO_HISTORY, added(NO_HISTORY.present, [one]), 'choosing 1 recording')
    for (const from of ['1', '12', '128'])
      history = edit(
        history,
        changed(history.present, new Set([1]), () => ({ from })),
        'levels',
        'from 1',
      )
    history = edit(history, removed(history.present, new Set([1])), 'removing')
    expect(history.past.map(({ note }) => note.what)).toEqual(['choosing 1 recording', 'levels', 'removing'])
    history = undo(history)
    expect(history.present.entries[0]?.hand.from).toBe('128')
    history = undo(history)
    expect(history.present.entries[0]?.hand.from).toBe('')
    history = redo(redo(history))
    expect(history.present.entries).toEqual([])
    history = undo(undo(undo(undo(history))))
    expect(history.present).toEqual(NO_HISTORY.present)
    expect(redo(history).present.entries.length).toBe(1)
  })
})

describe('rows', () => {
  it('that did not change are the same objects', () => {
    const keep = createRowKeeper()
    const entries = [entry(1, '0-255.csv'), entry(2, '255-0.csv')]
    const readings = readAll(entries)
    const before = keep(rowsOf(entries, readings, plain))
    const after = keep(rowsOf([entries[0] as Entry, entry(2, '255-0.csv', { from: '9' })], readings, plain))
    expect(after[0]).toBe(before[0])
    expect(after[1]).not.toBe(before[1])
    expect(after[1]?.from).toBe(9)
  })
})

/** A file of zeros that counts how it is read. */
const fileOf = (size: number): { size: number; slice(start: number, end: number): Blob } => {
  const blob = new Blob([new Uint8Array(size)])
  return { size, slice: (start, end) => blob.slice(start, end) }
}
const later = (): Promise<void> => new Promise((resolve) => setTimeout(resolve, 20))

interface FakeHost extends FileCalls {
  readonly staged: Map<string, number>
  readonly pieces: number[]
  asked: number
  most: number
}

function fakeHost(answer: () => Promise<ImportPreview> = async () => preview()): FakeHost {
  const staged = new Map<string, number>()
  const host: FakeHost = {
    staged,
    pieces: [],
    asked: 0,
    most: 0,
    stage: async ({ fileId, bytes }) => {
      const id = fileId ?? `staged ${staged.size + 1}`
      staged.set(id, (staged.get(id) ?? 0) + bytes.length)
      host.pieces.push(bytes.length)
      return { fileId: id }
    },
    importPreview: async ({ fileId }) => {
      if (!staged.has(fileId)) throw new AppError('not-found', 'This file is no longer available.')
      host.asked += 1
      host.most = Math.max(host.most, host.asked)
      try {
        return await answer()
      } finally {
        host.asked -= 1
      }
    },
  }
  return host
}

describe('bringing files to the host', () => {
  const reading = (): { files: FileReading; readings: Map<number, Reading> } => {
    const readings = new Map<number, Reading>()
    const files = new FileReading({
      describe: toErrorDetail,
      onReading: (key, reading) => readings.set(key, reading),
    })
    return { files, readings }
  }
  const want = (key: number, mapping: ImportMapping | null = null) => ({ key, name: `${key}.csv`, mapping })

  it('sends each once, in pieces, a few at a time', async () => {
    const { files, readings } = reading()
    const host = fakeHost(async () => {
      await later()
      return preview()
    })
    const size = MAX_STAGED_PIECE_BYTES + 5
    for (const key of [1, 2, 3, 4, 5]) files.add(key, fileOf(key === 1 ? size : 10))
    files.use(host)
    files.want([1, 2, 3, 4, 5].map((key) => want(key)))
    await expect.poll(() => [...readings.values()].filter(({ kind }) => kind === 'read').length).toBe(5)
    expect(host.staged.size).toBe(5)
    expect(host.staged.get('staged 1')).toBe(size)
    expect(Math.max(...host.pieces)).toBe(MAX_STAGED_PIECE_BYTES)
    expect(host.most).toBeLessThanOrEqual(2)
    // Another mapping is another look at the same file, not another journey.
    files.want([1, 2, 3, 4, 5].map((key) => want(key, key === 2 ? MAPPING : null)))
    await later()
    expect(host.staged.size).toBe(5)
  })

  it('sends a file again to a host that was started anew, and an empty file as it is', async () => {
    const { files, readings } = reading()
    files.add(1, fileOf(0))
    files.use(fakeHost())
    files.want([want(1)])
    await expect.poll(() => readings.get(1)?.kind).toBe('read')
    const fresh = fakeHost()
    files.use(fresh)
    await expect.poll(() => fresh.staged.size).toBe(1)
    await expect.poll(() => readings.get(1)?.kind).toBe('read')
  })

  it('waits while the line is broken and goes on with the next', async () => {
    const { files, readings } = reading()
    files.add(1, fileOf(10))
    files.use(
      fakeHost(() => Promise.reject(new AppError('cancelled', 'The connection to the host broke before it answered.'))),
    )
    files.want([want(1)])
    await expect.poll(() => readings.get(1)?.kind).toBe('waiting')
    files.use(fakeHost())
    await expect.poll(() => readings.get(1)?.kind).toBe('read')
  })

  it('says what is wrong with one and reads the others; a file that is gone says so', async () => {
    const { files, readings } = reading()
    files.add(1, { size: 10, slice: () => ({ arrayBuffer: () => Promise.reject(new Error('NotReadableError')) }) })
    files.add(2, fileOf(10))
    files.use(fakeHost())
    files.want([want(1), want(2)])
    await expect.poll(() => readings.get(2)?.kind).toBe('read')
    expect(readings.get(1)).toMatchObject({
      kind: 'failed',
      problem: { code: 'import-unreadable', remedy: 'Remove it from the list and choose it again.' },
    })
  })
})

describe('the desk', () => {
  const file = (name: string) => ({ ...fileOf(10), name })

  it('takes what was imported out of its list, keeps what was left out, and can undo that', () => {
    const desk = new ImportDesk()
    desk.add([file('b.csv'), file('a10.csv'), file('a9.csv')])
    const entries = () => desk.snapshot().history.present.entries
    expect(entries().map(({ name }) => name)).toEqual(['a9.csv', 'a10.csv', 'b.csv'])
    const keys = entries().map(({ key }) => key)
    desk.setJob({ id: 'import-1', keys: keys.slice(0, 2) })
    const report = {
      jobId: 'import-1',
      state: 'finished' as const,
      campaignId: 1,
      files: 2,
      sweepId: 1,
      captures: 1,
      good: 1,
      problems: [{ position: 1, name: 'a10.csv', problem: 'No.', remedy: '', kept: false }],
      failure: null,
    }
    desk.settle({ ...report, state: 'cancelled' })
    expect(entries().length).toBe(3)
    desk.settle(report)
    expect(entries().map(({ name }) => name)).toEqual(['a10.csv', 'b.csv'])
    desk.undo()
    expect(entries().length).toBe(3)
  })

  it('goes on with the next file after one is removed', () => {
    const desk = new ImportDesk()
    desk.add([file('1.csv'), file('2.csv'), file('3.csv')])
    const [, second, third] = desk.snapshot().history.present.entries
    desk.remove(new Set([second?.key ?? 0]))
    expect([...desk.snapshot().selected]).toEqual([third?.key])
  })
})

describe('a link to a sweep', () => {
  it('is read from the address, and anything else is no sweep', () => {
    expect(linkedSweep(new URLSearchParams('campaign=2&sweep=7'))).toEqual({ campaignId: 2, sweepId: 7 })
    expect(linkedSweep(new URLSearchParams('sweep=-1&campaign=x'))).toEqual({ campaignId: null, sweepId: null })
    expect(linkedSweep(new URLSearchParams())).toEqual({ campaignId: null, sweepId: null })
  })
})
