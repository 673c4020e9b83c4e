/**
 * The command line over an archive: one small simulated sweep, then everything that can be asked of it. What writes files
 * or ends with a code of its own is asked of the built program.
 */
import { readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { parse } from 'csv-parse/sync'
import { describe, expect, it } from 'vitest'
import { MEASURE_IDS } from '#shared/domain/measures.ts'
import { RECIPE_PRESETS } from '#shared/domain/recipe.ts'
import { slewlight } from '../support/program.ts'
import { inProcess, type Json, list, sweptArchive } from './swept-archive.ts'

const { folder, at, json, built } = sweptArchive((inFolder) => [
  '--out',
  join(inFolder, 'matrix.csv'),
  '--display',
  'Invented',
])

describe('after a sweep', () => {
  it('shows campaigns, sweeps, the matrix and captures', async () => {
    expect((await json('show', 'campaigns')).answer).toMatchObject([
      { campaign_id: 1, name: 'Bench', display: 'Invented', origin: 'simulated', sweeps: 1 },
    ])
    expect((await json('show', 'sweeps')).answer).toMatchObject([
      {
        sweep_id: 1,
        state: 'finished',
        captures_total: 12,
        captures_done: 12,
        captures_missing: 0,
        plan: { refresh_hz: 120 },
      },
    ])
    const { answer } = await json('show', 'sweep', '1')
    const cells = list(answer['cells'])
    expect(cells.length).toBe(6)
    for (const cell of cells) {
      expect(cell).toMatchObject({ n: 2, missing: 0, excluded: 0 })
      // Two repeats alone say nothing; six transitions that scatter alike do, and it is said that they were pooled.
      expect(cell['u95_s'] === null).toBe(cell['pooled'] === null)
      expect(cell['note']).toMatch(
        cell['pooled'] === null ? /No usable uncertainty: 2 captures/ : /s pooled over the sweep/,
      )
    }
    const mean = cells.reduce((sum, cell) => sum + Number(cell['mean_s']), 0) / 6
    expect(answer['summary']?.['mean']?.['value_s']).toBeCloseTo(mean, 12)
    expect(answer['summary']?.['mean']).toMatchObject({ n: 12, transitions: 6 })
    const captures = (await json('show', 'captures', '--from', '0', '--to', '255')).answer
    expect(captures).toMatchObject({ total: 2 })
    expect(Object.keys(captures['captures']?.[0]?.['result'] ?? {})).toEqual(MEASURE_IDS)
    const text = (await at('show', 'sweep', '1', '--cells')).stdout
    expect(text).toMatch(/Strong at 120 Hz, finished/)
    expect(text).toMatch(/No usable uncertainty: 2 captures|s pooled over the sweep/)
    expect((await at('show', 'log', '--sweep', '1')).stdout).toMatch(/The sweep is finished: 12 captures/)
  })

  it('shows one transition with what its uncertainty is made of', async () => {
    const { answer } = await json('show', 'cell', '1', '--from', '0', '--to', '255', '--budget')
    expect(answer['cell']).toMatchObject({ from_code: 0, to_code: 255, n: 2, undecided: 0 })
    expect(list(answer['captures']).length).toBe(2)
    const budget = list(answer['budget'])
    expect(budget.length).toBeGreaterThan(0)
    const shares = budget.map((term) => Number(term['share_pct']))
    expect(shares.reduce((sum, share) => sum + share, 0)).toBeCloseTo(100, 6)
    expect(shares).toEqual([...shares].sort((a, b) => b - a))
    const text = (await at('show', 'cell', '1', '--from', '0', '--to', '255', '--budget')).stdout
    expect(text).toMatch(/uncertainty from .*falls with repeats +what helps/)
    expect(text).toMatch(/Scatter of the repeats.* More repeats: four times as many halve it\./)
    // An uncertainty has two digits that mean something.
    const printed = [...text.matchAll(/ {2}(\d+(?:\.\d+)?) +\d+(?:\.\d+)? %/g)].map(([, u]) => u ?? '')
    expect(printed.length).toBeGreaterThan(0)
    for (const u of printed) expect(u.replace(/^[0.]+|\./g, '').length).toBeLessThanOrEqual(2)
    expect(await at('show', 'cell', '1')).toMatchObject({ code: 2 })
    expect(await at('show', 'cell', '1', '--from', '0', '--to', '7')).toMatchObject({ code: 6 })
  })

  it('re-analyses under another recipe once, and compares the two', async () => {
    const wide = join(folder, 'wide.json')
    writeFileSync(wide, JSON.stringify({ name: '3–97 % of luminance', duration: { kind: 'percent', percent: 3 } }))
    expect((await json('recipes', 'add', wide)).answer).toMatchObject({ added: true })
    const before = await json('compare-recipes', '10-90', '3-97', '--sweep', '1')
    expect(before).toMatchObject({ code: 1, answer: { unmeasured_a: 0, unmeasured_b: 12 } })
    expect(await json('reanalyse', '--recipe', '3-97')).toMatchObject({
      code: 0,
      answer: { measured: 12, left: 0, state: 'finished' },
    })
    expect(await json('reanalyse', '--recipe', '3-97')).toMatchObject({ code: 0, answer: { measured: 0, left: 0 } })
    const { code, answer } = await json('compare-recipes', '10-90', '3-97', '--sweep', '1', '--most', '2')
    expect(code).toBe(0)
    expect(list(answer['most_changed']).length).toBe(2)
    const cells = list(answer['cells'])
    for (const cell of cells) {
      expect(Number(cell['difference_s'])).toBeGreaterThan(0)
      expect(Number(cell['difference_s'])).toBeCloseTo(Number(cell['b_s']) - Number(cell['a_s']), 12)
    }
    expect((await at('reanalyse', '--recipe', '3-97', '--sweep', '9')).code).toBe(6)
  })

  it('lists, shows and adds recipes; what is printed can be added', async () => {
    expect(list((await json('recipes', 'list')).answer).length).toBe(RECIPE_PRESETS.length + 1)
    const printed = await at('recipes', 'show', '10-90')
    const mine = join(folder, 'mine.json')
    writeFileSync(mine, printed.stdout)
    expect((await json('recipes', 'add', mine)).answer).toMatchObject({ added: false })
    writeFileSync(mine, JSON.stringify({ ...JSON.parse(printed.stdout), name: 'Mine', darkCode: 50 }))
    expect((await json('recipes', 'add', mine)).answer).toMatchObject({ added: true, name: 'Mine' })
    expect((await json('recipes', 'show', 'mine')).answer).toMatchObject({ parameters: { darkCode: 50 } })
  })

  it('exports what it shows', async () => {
    const { answer } = await json('show', 'sweep', '1')
    const rows: Record<string, string>[] = parse(readFileSync(join(folder, 'matrix.csv')), { columns: true })
    for (const cell of list(answer['cells'])) {
      const row = rows.find(
        (r) =>
          r['measure'] === 'transition_duration_s' &&
          r['from_code'] === JSON.stringify(cell['from_code']) &&
          r['to_code'] === JSON.stringify(cell['to_code']),
      )
      expect(Number(row?.['mean'])).toBe(cell['mean_s'])
    }
    const out = await built.at('export', 'captures', '1', '--out', '-')
    const captures: Record<string, string>[] = parse(out.stdout, { columns: true })
    expect(captures.length).toBe(12)
    const shown = list((await json('show', 'captures', '--sweep', '1')).answer['captures'])
    for (const [i, row] of captures.entries()) {
      expect(row['capture_id']).toBe(JSON.stringify(shown[i]?.['capture_id']))
      for (const id of MEASURE_IDS) expect(row[id] === '' ? null : Number(row[id])).toBe(shown[i]?.['result']?.[id])
    }
  })

  it('measures an exported trace, and imports it, with the numbers of the stored capture', async () => {
    const ids = ['1', '2', '3', '4']
    for (const id of ids) await at('export', 'trace', id, '--out', `${folder}/`)
    const files = readdirSync(folder)
      .filter((name) => name.endsWith('_trace.csv'))
      .map((name) => join(folder, name))
    expect(files.length).toBe(4)
    // The ladder is not in the file, so only what needs none must agree; the samples are the same to 6 · 10⁻⁸.
    const same = ['transition_duration_s', 'settling_s', 'overshoot_pct', 'step_v', 'blur_edge_s'] as const
    for (const file of files) {
      const id = /capture-(\d+)/.exec(file)?.[1] ?? ''
      const stored = (await json('show', 'capture', id)).answer['result']
      const measured = JSON.parse((await inProcess('measure', file, '--refresh', '120', '--json')).stdout) as Json
      for (const measure of same)
        expect(Math.abs(Number(measured['result']?.[measure]) - Number(stored?.[measure]))).toBeLessThan(1e-5)
    }
    const broken = join(folder, '0-128_broken.csv')
    writeFileSync(broken, 'time_s,voltage_v\n0,NaN\n1,2\n')
    const imported = await built.json(
      'import',
      ...files,
      broken,
      '--setting',
      'Strong',
      '--refresh',
      '120',
      '--campaign',
      'From files',
    )
    expect(imported.code).toBe(1)
    expect(imported.answer).toMatchObject({ captures: 4, problems: [{ name: broken }] })
    expect(imported.answer['sweep']).toMatchObject({ origin: 'imported', state: 'finished', sweep_id: 2 })
    expect((await built.at('import', broken, '--setting', 'x', '--refresh', '60')).code).toBe(5)
    expect(list((await json('show', 'sweeps')).answer).length).toBe(2)
  })

  it('answers with the right exit code when something is not there', async () => {
    for (const [code, ...args] of [
      [6, 'show', 'capture', '999'],
      [6, 'show', 'sweep', '999'],
      [6, 'export', 'trace', '999'],
      [6, 'sweep', '--resume', '999'],
      [2, 'show', 'everything'],
      [2, 'export', 'matrix', '1', '--out', join(folder, 'absent', 'x.csv')],
    ] as const) {
      const finished = await (args[0] === 'show' ? built.at : at)(...args)
      expect([finished.code, args]).toEqual([code, args])
      expect(finished.stderr).not.toMatch(/\n {4}at /)
    }
    const text = join(folder, 'text.sqlite')
    writeFileSync(text, 'this is no archive at all, but a text of some length'.repeat(100))
    const foreign = await slewlight(['show', 'sweeps', '--archive', text]).done
    expect([2, 4]).toContain(foreign.code)
    expect(readFileSync(text, 'utf8')).toMatch(/^this is no archive/)
  })
})

describe('a sweep that is interrupted', () => {
  it('pauses after the capture in hand, says how to go on, and goes on there', async () => {
    const other = join(folder, 'paused.sqlite')
    // Three quarters of a minute, so that it is still at work when it has been looked at.
    const plan = ['--levels', '0,85,170,255', '--repeats', '6', '--rate', '20000']
    const running = slewlight(['sweep', ...plan, '--archive', other, '--json'])
    await running.said(/"captures_done":[1-9]/)
    // It can be looked at meanwhile, not changed.
    const looked = await slewlight(['show', 'sweeps', '--archive', other, '--json']).done
    expect([looked.code, looked.stdout]).toEqual([0, expect.stringMatching(/"state": "(?:ladder|running)"/)])
    const busy = await slewlight(['reanalyse', '--recipe', '10–90 % of luminance', '--archive', other]).done
    expect([busy.code, busy.stderr]).toEqual([4, expect.stringMatching(/in use/)])
    const paused = await running.kill('SIGINT')
    expect(paused.code).toBe(8)
    const answer = JSON.parse(paused.stdout) as Json
    expect(answer['sweep']).toMatchObject({ state: 'paused' })
    const done = Number(answer['sweep']?.['captures_done'])
    expect(done).toBeGreaterThan(0)
    expect(done).toBeLessThan(72)
    const command = (answer['resume'] as unknown as string).split(' ')
    expect(command.slice(0, 4)).toEqual(['slewlight', 'sweep', '--resume', '1'])
    const finished = await inProcess(...command.slice(1), '--json')
    expect([finished.code, finished.stderr]).toEqual([0, expect.anything()])
    expect((JSON.parse(finished.stdout) as Json)['sweep']).toMatchObject({
      state: 'finished',
      captures_done: 72,
      captures_missing: 0,
    })
    const again = await slewlight(['sweep', '--resume', '1', '--archive', other]).done
    expect(again.code).toBe(6)
    expect(again.stderr).toMatch(/Nothing is left to capture/)
  })
})
