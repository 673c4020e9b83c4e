/**
 * The main job over real bytes: the simulated rig in a process of its own behind a pseudo-terminal, the host with the
 * real serialport, everything in one call of the command line.
 */
import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { parse } from 'csv-parse/sync'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { createClock } from '#main/platform/clock.ts'
import { openStore } from '#main/store/store.ts'
import { recipeHash, DEFAULT_RECIPE } from '#shared/domain/recipe.ts'
import { cellStatistics } from '#shared/findings/matrix.ts'
import { walkOf } from '#shared/domain/walk.ts'
import type { Store } from '#main/core/ports.ts'
import { SILENT } from '../support/bench-core.ts'
import { compareWithTruth } from '../support/truth-comparison.ts'
import { slewlight, type Finished, type Running } from '../support/program.ts'
import { createStoreWorker } from '../support/workers.ts'
import { SKIP_PTY } from '../rig/support/pty.ts'
import { capturesOf } from '../support/captures.ts'

describe.skipIf(SKIP_PTY)('six-level sweep over a pseudo-terminal', () => {
  const folder = mkdtempSync(join(tmpdir(), 'slewlight-'))
  const file = (name: string): string => join(folder, name)
  const hash = recipeHash(DEFAULT_RECIPE)
  let rig: Running
  let finished: Finished
  let store: Store

  beforeAll(async () => {
    rig = slewlight(['rig-sim', '--pty', file('rig'), '--control', file('rig.sock'), '--panel', 'dusk', '--seed', '11'])
    await rig.said(/Simulated rig/)
    finished = await slewlight([
      'sweep',
      '--rig',
      file('rig'),
      '--baud',
      '4000000',
      '--control',
      file('rig.sock'),
      '--stimulus',
      'socket',
      '--setting',
      'Strong',
      '--refresh',
      '120',
      '--levels',
      '0,51,102,153,204,255',
      '--repeats',
      '2',
      '--archive',
      file('archive.sqlite'),
      '--out',
      file('matrix.csv'),
      '--json',
    ]).done
    store = await openStore({
      path: file('archive.sqlite'),
      createWorker: createStoreWorker,
      clock: createClock(),
      log: SILENT,
    })
  })

  afterAll(async () => {
    await store.close()
    await rig.kill('SIGTERM')
    rmSync(folder, { recursive: true, force: true })
  })

  it('stores every capture of the walk once', async () => {
    expect(finished.stderr).not.toMatch(/"error"/)
    expect(finished.code).toBe(0)
    const sweep = await store.sweep({ sweepId: 1 })
    expect(sweep).toMatchObject({ state: 'finished', total: 60, done: 60, missing: 0 })
    const rows = await capturesOf(store, { recipeHash: hash, sweepId: 1, verdict: 'good' })
    expect(rows.map((row) => row.info.position).sort((a, b) => a - b)).toEqual(
      walkOf(sweep.plan).map((step) => step.position),
    )
    expect(rows.every((row) => row.info.sampleCount === 15_000)).toBe(true)
  })

  it('agrees with the noise-free truth: mean within 2 %, overshoot within 0.5 percentage points', async () => {
    const matrix = await store.matrix({
      sweepId: 1,
      recipeHash: hash,
      measures: ['transition_duration_s', 'overshoot_pct', 'settling_s'],
    })
    const comparison = compareWithTruth(matrix, { panel: 'dusk', setting: 'Strong', refreshHz: 120 })
    console.log(
      `pty sweep: mean duration ${(1e3 * comparison.measuredMeanS).toFixed(4)} ms, truth ${(1e3 * comparison.trueMeanS).toFixed(4)} ms ` +
        `(${comparison.meanErrorPct.toFixed(3)} %); worst cell ${comparison.worstDurationCell} ${comparison.worstDurationPct.toFixed(2)} %; ` +
        `worst overshoot ${comparison.worstOvershootCell} ${comparison.worstOvershootPoints.toFixed(3)} points`,
    )
    expect(Math.abs(comparison.meanErrorPct)).toBeLessThan(2)
    expect(comparison.worstOvershootPoints).toBeLessThan(0.5)
  })

  it('wrote a matrix that reads back equal to the archive', async () => {
    const records: Record<string, string>[] = parse(readFileSync(file('matrix.csv'), 'utf8'), {
      columns: true,
      bom: true,
    })
    const matrix = await store.matrix({ sweepId: 1, recipeHash: hash, measures: ['transition_duration_s'] })
    const cells = cellStatistics(matrix, 'transition_duration_s', 2)
    const rows = records.filter((record) => record['measure'] === 'transition_duration_s')
    expect(rows.length).toBe(30)
    for (const cell of cells) {
      const row = rows.find(
        (record) => Number(record['from_code']) === cell.from && Number(record['to_code']) === cell.to,
      )
      expect(Number(row?.['mean'])).toBe(cell.mean)
      expect(row?.['recipe_hash']).toBe(hash)
    }
  })
})
