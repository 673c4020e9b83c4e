/** SIGKILL in mid-sweep: every acknowledged capture is there, the sweep resumes at the next one. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { createClock } from '#main/platform/clock.ts'
import { openStore } from '#main/store/store.ts'
import { DEFAULT_RECIPE, recipeHash } from '#shared/domain/recipe.ts'
import { walkOf } from '#shared/domain/walk.ts'
import { SILENT } from '../support/bench-core.ts'
import { inProcess } from '../cli/swept-archive.ts'
import { slewlight } from '../support/program.ts'
import { createStoreWorker } from '../support/workers.ts'
import { capturesOf } from '../support/captures.ts'

describe('a sweep whose process is killed', () => {
  const folder = mkdtempSync(join(tmpdir(), 'slewlight-'))
  afterAll(() => rmSync(folder, { recursive: true, force: true }))

  it('resumes without a duplicate and without a gap, twice', async () => {
    const archive = join(folder, 'archive.sqlite')
    const common = ['--archive', archive, '--json', '--speed', '2']
    const first = slewlight(['sweep', ...common, '--levels', '0,85,170,255', '--repeats', '5'])
    // The first report after the one at the start: captures have been taken, and one is in hand.
    const UNDER_WAY = /"elapsed_s":[5-9]\.|"elapsed_s":\d\d/
    await first.said(UNDER_WAY)
    await first.kill('SIGKILL')
    const second = slewlight(['sweep', ...common, '--resume', '1'])
    await second.said(UNDER_WAY)
    await second.kill('SIGKILL')
    const last = await inProcess('sweep', '--archive', archive, '--json', '--resume', '1')
    expect(last.code).toBe(0)

    const store = await openStore({ path: archive, createWorker: createStoreWorker, clock: createClock(), log: SILENT })
    try {
      const sweep = await store.sweep({ sweepId: 1 })
      expect(sweep.state).toBe('finished')
      const rows = await capturesOf(store, { recipeHash: recipeHash(DEFAULT_RECIPE), sweepId: 1, verdict: 'good' })
      const taken = rows
        .map(({ info: { position, from, to } }) => ({ position, from, to }))
        .sort((a, b) => a.position - b.position)
      expect(taken).toEqual(walkOf(sweep.plan).map(({ position, from, to }) => ({ position, from, to })))
      for (const row of rows) expect((await store.trace(row.info.id)).samples.length).toBe(row.info.sampleCount)
    } finally {
      await store.close()
    }
  })
})
