/** The demo library as `slewlight demo` makes it: every screen finds something, and all of it is marked invented. */
import { spawnSync } from 'node:child_process'
import { copyFileSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import type { Store } from '#main/core/ports.ts'
import { campaignsOf } from '#main/core/campaign/findings.ts'
import { openStore } from '#main/store/store.ts'
import { RECIPE_PRESETS, recipeHash } from '#shared/domain/recipe.ts'
import { answer } from '#shared/findings/campaign/answer.ts'
import { alike, compareDisplays } from '#shared/findings/campaign/displays.ts'
import { summarise, SUMMARY_MEASURES } from '#shared/findings/summary.ts'
import { DEFAULT_CHOICE, displayRecord, newestLadder, quantitiesOf } from '#shared/record/record.ts'
import { slewlight } from '../support/program.ts'
import { createStoreWorker } from '../support/workers.ts'
import { capturesOf } from '../support/captures.ts'

/** Ordered pairs of levels × repeats × sweeps: 6·2, 42·4·4 and 42·5·9. */
const DEMO_CAPTURES = 6 * 2 + 42 * 4 * 4 + 42 * 5 * 9
const folder = mkdtempSync(join(tmpdir(), 'slewlight-demo-'))
const recipe = RECIPE_PRESETS[0]!
const hash = recipeHash(recipe)
let path = ''
let told = ''
let store: Store

beforeAll(async () => {
  // As a program that was killed left it, a moment before it was finished.
  const { pid } = spawnSync(process.execPath, ['-e', ''])
  mkdirSync(join(folder, `making-${pid}-a1B2c3`))
  writeFileSync(join(folder, `making-${pid}-a1B2c3`, 'demo.sqlite'), 'half')
  const made = await slewlight(['demo', '--folder', folder, '--json']).done
  if (made.code !== 0) throw new Error(made.stderr)
  told = made.stderr
  path = (JSON.parse(made.stdout) as { archive: string }).archive
  const log = { info: () => undefined, warn: () => undefined, error: () => undefined }
  store = await openStore({ path, createWorker: createStoreWorker, clock: { iso: () => '' }, log, readOnly: true })
})
afterAll(async () => {
  await store.close()
  rmSync(folder, { recursive: true, force: true })
})

describe('the demo library', () => {
  it('clears away what a killed program left half made', () => {
    expect(readdirSync(folder).filter((name) => name.startsWith('making-'))).toEqual([])
  })

  it('says how far it is while it is made', () => {
    const lines = told.split('\n').filter((line) => line !== '')
    const steps = lines.map((line) => (JSON.parse(line) as { progress: { done: number; total: number } }).progress)
    expect(steps.length).toBeGreaterThan(0)
    expect(new Set(steps.map(({ total }) => total))).toEqual(new Set([DEMO_CAPTURES]))
    expect(steps.map(({ done }) => done)).toEqual(steps.map(({ done }) => done).toSorted((a, b) => a - b))
  })

  it('holds only data that is marked as invented', async () => {
    const campaigns = await store.campaigns()
    expect(campaigns.length).toBeGreaterThanOrEqual(2)
    for (const campaign of campaigns) {
      expect(campaign.origin).toBe('simulated')
      expect(`${campaign.name} ${campaign.display}`.toLowerCase()).toContain('invented')
    }
    for (const sweep of await store.sweeps({})) expect(sweep).toMatchObject({ origin: 'simulated', state: 'finished' })
  })

  it('has a grid of settings and refresh rates, measured in seven levels with an uncertainty', async () => {
    const sweeps = await store.sweeps({ campaignId: (await store.campaigns()).at(-1)!.id })
    expect(new Set(sweeps.map(({ setting }) => setting)).size).toBeGreaterThanOrEqual(2)
    expect(new Set(sweeps.map(({ refreshHz }) => refreshHz)).size).toBeGreaterThanOrEqual(2)
    for (const { id: sweepId, plan, done, total } of sweeps) {
      expect(plan.levels.length).toBe(7)
      expect(done).toBe(total)
      const summary = summarise(
        await store.matrix({ sweepId, recipeHash: hash, measures: [...SUMMARY_MEASURES] }),
        recipe,
      )
      expect(summary.counts.unmeasured).toBe(0)
      expect(summary.mean.cells).toBe(42)
      expect(summary.mean.u95).toBeGreaterThan(0)
    }
  })

  it('has a complete record of one display and one that is begun', async () => {
    const states = await Promise.all(
      (await store.campaigns()).map(async ({ id: campaignId }) => {
        const [readings, sweeps] = await Promise.all([store.readings({ campaignId }), store.sweeps({ campaignId })])
        const record = displayRecord(readings, newestLadder(sweeps), DEFAULT_CHOICE)
        return quantitiesOf(record).map(({ state }) => state)
      }),
    )
    expect(new Set(states.at(-1))).toEqual(new Set(['measured']))
    // The second's ladder is in cd/m² by one reading of a meter.
    expect(states.at(-2)).toEqual([
      'missing',
      'measured',
      'missing',
      'measured',
      'missing',
      'missing',
      'missing',
      'missing',
    ])
    expect(new Set(states.at(-3))).toEqual(new Set(['missing']))
  })

  it('has captures to review, of several kinds', async () => {
    const rows = await capturesOf(store, { recipeHash: hash, doubtful: true })
    const flags = new Set(rows.flatMap((row) => row.flags))
    expect([...flags]).toEqual(
      expect.arrayContaining(['hum', 'double-step', 'missing-samples', 'differs-from-repeats', 'saturation']),
    )
    // Few enough to work through.
    expect(rows.length).toBeLessThan(40)
  })

  it('has periodic light to look at', async () => {
    const [first] = await store.campaigns()
    const [sweep] = await store.sweeps({ campaignId: first!.id })
    const { steps } = sweep!.ladder!
    const white = steps.at(-1)!
    // A strobe goes from dark to several times its mean.
    expect(white.peakToPeakV).toBeGreaterThan(2 * white.meanV)
  })

  it('has a finished run and a reading for each display', async () => {
    for (const { id: campaignId } of await store.campaigns()) {
      const [run] = await store.runs({ campaignId })
      expect(run).toMatchObject({ state: 'finished' })
      expect(run!.sweepIds.length).toBe((await store.sweeps({ campaignId })).length)
      expect((await store.readings({ campaignId })).length).toBeGreaterThan(0)
    }
  })

  it('is opened the second time as it is, and leaves no draft behind', async () => {
    const before = readdirSync(folder)
    const again = await slewlight(['demo', '--folder', folder, '--json']).done
    expect(JSON.parse(again.stdout)).toEqual({ archive: path, invented: true })
    expect(again.stderr).not.toMatch(/progress/)
    expect(readdirSync(folder)).toEqual(before)
    expect(before.filter((name) => name.startsWith('making-'))).toEqual([])
  })

  it('ranks its two displays that compare, under the limits kept with the newest one', async () => {
    const newest = (await store.campaigns()).at(-1)!
    const { limits, weighting } = (await store.judgement({ campaignId: newest.id }))!
    const like = alike((await campaignsOf(store, hash, recipe)).flatMap(({ data }) => data ?? []))
    const displays = like.displays.map((one) => ({ ...one, answer: answer(one.points, limits, weighting) }))
    const found = compareDisplays(displays, 'duration_mean', { kind: 'whole-range', weighting })
    expect(found.entries.map(({ name }) => name)).toEqual(['Invented display A', 'Invented display B'])
    expect(found.ranking.ranked.map(({ best, worst }) => [best, worst])).toEqual([
      [1, 1],
      [2, 2],
    ])
    expect(like.leftOut.map(({ name }) => name)).toEqual(['Invented display C'])
  })

  it('gives findings and a report while another program has it open for writing', async () => {
    const copy = join(folder, 'open.sqlite')
    copyFileSync(path, copy)
    const log = { info: () => undefined, warn: () => undefined, error: () => undefined }
    const clock = { iso: () => '2031-01-01T00:00:00.000Z' }
    const writer = await openStore({ path: copy, createWorker: createStoreWorker, clock, log })
    try {
      const findings = await slewlight(['findings', '3', '--archive', copy, '--json']).done
      expect(findings.stderr).toBe('')
      expect(findings.code).toBe(0)
      const told = JSON.parse(findings.stdout) as { limits: unknown; sentences: { text: string }[] }
      expect(told.limits).toEqual({ overshoot_mean: { bound: 'at-most', value: 5 } })
      expect(told.sentences[0]?.text).toMatch(/^Gentle and Off meet the limits from 60 to 240 Hz/)
      const out = join(folder, 'report.html')
      const report = await slewlight(['report', '3', '--archive', copy, '--chapters', 'overview', '--out', out]).done
      expect(report.code).toBe(0)
      expect(readFileSync(out, 'utf8')).toContain('mean overshoot of at most 5 %')
    } finally {
      await writer.close()
    }
  })
})
