/** Decisions from the command line: what is decided shows wherever captures and means are shown, and can be taken back. */
import { parse } from 'csv-parse/sync'
import { describe, expect, it } from 'vitest'
import { run } from './in-process.ts'
import { type Json, list, sweptArchive } from './swept-archive.ts'

const { at, json: answerOf } = sweptArchive()
const json = async (...args: string[]): Promise<Json> => {
  const { code, answer } = await answerOf(...args)
  expect([args, code]).toEqual([args, 0])
  return answer
}
const WHO = ['--reviewer', 'A. Operator']

describe('review', () => {
  it('refuses what is not a whole decision before it opens an archive', async () => {
    for (const args of [
      ['add', '--decision', 'keep', '--reason', 'x', ...WHO],
      ['add', '1', '--reason', 'x', ...WHO],
      ['add', '1', '--decision', 'exclude', '--reason', '  ', ...WHO],
      ['add', '1', '--decision', 'exclude', '--reason', 'x'],
      ['add', '1', '--decision', 'exclude', '--reason', 'x', '--low', '0.1', ...WHO],
      ['add', '1', '--decision', 'override', '--reason', 'x', ...WHO],
      ['add', '1', '--decision', 'override', '--after', '0.2,0.1', '--reason', 'x', ...WHO],
      ['add', '1', '--decision', 'perhaps', '--reason', 'x', ...WHO],
      ['note', '1', ...WHO],
      ['note', '1', 'x'],
      ['forget', '1'],
    ]) {
      const answer = await run(['review', ...args, '--json'])
      expect([args, answer.code, answer.out]).toEqual([args, 2, ''])
      expect(JSON.parse(answer.err)).toMatchObject({ error: { code: 'invalid-input', exit_code: 2 } })
    }
    const help = await run(['review', '--help'])
    expect(help.code).toBe(0)
    for (const word of ['Exit codes:', '--decision', 'undo', 'retakes']) expect(help.out).toContain(word)
  })

  it('excludes, shows it wherever means are shown, and takes it back', async () => {
    expect(await json('review', 'list')).toEqual([])
    expect((await at('review', 'undo')).code).toBe(6)
    expect((await at('review', 'add', '999', '--decision', 'keep', '--reason', 'x', ...WHO)).code).toBe(6)
    const [row] = list((await json('show', 'captures', '--limit', '1'))['captures'])
    const pair = { from_code: row?.['from_code'], to_code: row?.['to_code'] }
    const cell = async (): Promise<Json | undefined> =>
      list((await json('show', 'sweep', '1'))['cells']).find(
        (one) => one['from_code'] === pair.from_code && one['to_code'] === pair.to_code,
      )
    const before = await cell()
    expect(before).toMatchObject({ n: 2, excluded: 0 })
    const added = await json('review', 'add', '1', '--decision', 'exclude', '--reason', 'Lamp was on', ...WHO)
    expect(added).toMatchObject({
      capture_id: 1,
      review: { decision: 'exclude', reason: 'Lamp was on', reviewer: 'A. Operator', undone: false },
      undo: expect.stringMatching(/^exclude capture 1 \(/) as string,
    })
    const after = await cell()
    expect(after).toMatchObject({ n: 1, excluded: 1 })
    expect(after?.['mean_s']).not.toBe(before?.['mean_s'])
    const text = (await at('show', 'sweep', '1')).stdout
    expect(text).toMatch(/x = some of its captures are excluded/)
    expect(text).toMatch(/1 excluded/)
    expect((await at('review', 'undo')).stdout).toMatch(/^Undone: exclude capture 1 \(/)
    expect(await cell()).toEqual(before)
    expect(await json('review', 'redo')).toMatchObject({
      words: expect.stringMatching(/^Redone: exclude capture 1/) as string,
      step: { decision: 'exclude', undone: false },
    })
    expect((await at('review', 'redo')).code).toBe(6)
  })

  it('moves marks, keeps the machine’s own result beside, and marks the numbers in tables and exports', async () => {
    const marks = ['--low', '0.06', '--high', '0.0725']
    await json('review', 'add', '2', '--decision', 'override', ...marks, '--reason', 'Spike', ...WHO)
    await json('review', 'note', '2', 'Seen on the "other" panel too', ...WHO)
    const shown = await json('show', 'capture', '2')
    expect(shown['result']?.['transition_duration_s']).toBeCloseTo(0.0125, 9)
    expect(shown).toMatchObject({
      overridden: true,
      note: { text: 'Seen on the "other" panel too', reviewer: 'A. Operator' },
      reviews: [{ decision: 'override', override: { crossLowS: 0.06, crossHighS: 0.0725 } }],
    })
    const own = Number(shown['own_result']?.['result']?.['transition_duration_s'])
    expect(own).toBeGreaterThan(0)
    expect(own).not.toBeCloseTo(0.0125, 4)
    const rows = list((await json('show', 'captures', '--review', 'override'))['captures'])
    expect(rows).toMatchObject([{ capture_id: 2, overridden: true, noted: true, superseded: false }])
    expect(await json('show', 'captures', '--noted')).toMatchObject({ total: 1, captures: [{ capture_id: 2 }] })
    const out = parse((await at('export', 'captures', '1', '--out', '-')).stdout, { columns: true })
    expect((out as Record<string, string>[])[1]).toMatchObject({
      overridden: '1',
      note: 'Seen on the "other" panel too',
      review: 'override',
    })
    expect((await at('show', 'sweep', '1')).stdout).toMatch(/\* = some of its captures are measured with marks moved/)
    // A new recipe measures it by the same marks.
    await json('reanalyse', '--recipe', '2 L*')
    const other = await json('show', 'capture', '2', '--recipe', '2 L*')
    expect(other).toMatchObject({ overridden: true })
    expect(other['result']?.['transition_duration_s']).toBeCloseTo(0.0125, 9)
    const compared = await json('compare-recipes', '10-90', '2 L*', '--sweep', '1')
    const sum = (name: string): number => list(compared['cells']).reduce((total, cell) => total + Number(cell[name]), 0)
    expect([sum('excluded'), sum('overridden')]).toEqual([1, 1])
  })

  it('sends back, and the resumed sweep takes just that again', async () => {
    await json('review', 'add', '3', '--decision', 'retake', '--reason', 'Cable touched', ...WHO)
    expect(await json('review', 'retakes')).toMatchObject([
      { sweep_id: 1, capture_id: 3, reason: 'Cable touched', attempts: 0, obstacle: '', refresh_hz: 120 },
    ])
    expect(await json('sweep', '--resume', '1')).toMatchObject({
      sweep: { state: 'finished', captures_total: 12, captures_done: 12, captures_missing: 0 },
    })
    expect((await at('review', 'retakes', '--sweep', '1')).stdout).toMatch(/No capture is waiting/)
    const rows = list((await json('show', 'captures'))['captures'])
    expect(rows).toHaveLength(13)
    expect(rows.filter((row) => (row['superseded'] as unknown) === true)).toMatchObject([{ capture_id: 3 }])
    expect(await json('show', 'capture', '3')).toMatchObject({ superseded_by: 13 })
    expect((await json('review', 'list')).length as unknown).toBe(4)
    expect(
      list(await json('review', 'list')).map((step) => [step['kind'], step['capture_id'], step['undone']]),
    ).toEqual([
      ['review', 3, false],
      ['note', 2, false],
      ['review', 2, false],
      ['review', 1, false],
    ])
    expect(list(await json('review', 'list', '2'))).toHaveLength(2)
    expect((await at('review', 'list', '999')).code).toBe(6)
  })
})
