/** An import as the interface makes it: files in pieces, a look at them, a job with progress, taking it back. */
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import type { ImportReport } from '#shared/domain/import.ts'
import type { JobOutcome } from '#shared/domain/job-outcome.ts'
import { captureFilterSchema } from '#shared/domain/views.ts'
import { openBenchCore, type BenchCore } from '../support/bench-core.ts'

let bench: BenchCore
let campaignId: number
beforeEach(async () => {
  bench = await openBenchCore()
  campaignId = (await bench.core.campaigns.create({ name: 'Invented', display: 'Invented display', note: '' })).id
})
afterEach(() => bench.close())

/** A first-order step with τ = 4 ms, 10 kS/s. */
function recording(from: number, to: number): string {
  const [low, high] = [from / 100, to / 100]
  const rows = Array.from({ length: 1500 }, (_, i) => {
    const t = (i - 300) / 10_000
    return `${t},${t < 0 ? low : high + (low - high) * Math.exp(-t / 0.004)}`
  })
  return ['time_s,voltage_v', ...rows].join('\n')
}

async function stage(text: string, pieceBytes = 10_000): Promise<string> {
  const bytes = new TextEncoder().encode(text)
  let fileId: string | null = null
  for (let at = 0; at === 0 || at < bytes.length; at += pieceBytes)
    ({ fileId } = await bench.core.files.stage({ fileId, bytes: bytes.slice(at, at + pieceBytes) }))
  return fileId ?? ''
}

type Chosen = Parameters<BenchCore['core']['files']['importStart']>[0]['files'][number]
async function chosen(name: string, from: number, to: number, repeat = 1, text = recording(from, to)): Promise<Chosen> {
  const fileId = await stage(text)
  const { mapping } = await bench.core.files.importPreview({ fileId, name, mapping: null, columns: 0 })
  return { fileId, name, mapping, from, to, repeat }
}

const start = (files: Chosen[]): Promise<{ jobId: string }> =>
  bench.core.files.importStart({ campaignId, setting: 'Off', refreshHz: 60, files })

async function ended(jobId: string): Promise<ImportReport & Pick<JobOutcome, 'state' | 'failure'>> {
  await bench.until(
    ({ jobs }) => jobs.some(({ id, state }) => id === jobId && state !== 'running'),
    'the end of the import',
  )
  const { kind, result, ...end } = await bench.core.jobs.outcome({ jobId })
  if (kind !== 'import') throw new Error(`The job is of the kind ${kind}.`)
  return { ...result, ...end }
}

describe('an import as a job', () => {
  it('becomes one measured sweep in the campaign, with progress and a report', async () => {
    const files = [await chosen('0-255_r1.csv', 0, 255), await chosen('0-255_r2.csv', 0, 255, 2)]
    files.push(await chosen('255-0.csv', 255, 0), await chosen('letter.csv', 0, 255, 3, 'a letter,\n'))
    const { jobId } = await start(files)
    const report = await ended(jobId)
    expect(report).toMatchObject({
      state: 'finished',
      campaignId,
      files: 4,
      captures: 3,
      good: 3,
      failure: null,
      problems: [{ name: 'letter.csv', kept: false }],
    })
    expect(report.problems[0]?.remedy).not.toBe('')
    expect(bench.state().jobs).toMatchObject([{ id: jobId, kind: 'import', state: 'finished', done: 4, total: 4 }])
    expect(await bench.core.sweeps.list({ campaignId })).toMatchObject([{ origin: 'imported', done: 3, hidden: false }])
    const { recipeHash } = bench.state()
    const matrix = await bench.core.sweeps.matrix({
      sweepId: report.sweepId ?? 0,
      recipeHash,
      measures: ['transition_duration_s'],
    })
    const values = matrix.cells.flatMap(({ entries }) => entries.map(({ values }) => values.transition_duration_s))
    expect(values.length).toBe(3)
    // 10–90 % of a first-order step lasts τ · ln 9 (closed form).
    for (const value of values) expect(Math.abs(Number(value) / (0.004 * Math.log(9)) - 1)).toBeLessThan(2e-3)
    expect((await bench.core.campaigns.list()).find(({ id }) => id === campaignId)?.origin).toBe('imported')
  })

  it('compares its captures with one another as after any sweep', async () => {
    const files: Chosen[] = []
    for (let repeat = 1; repeat <= 6; repeat++) {
      const slow = recording(0, 255).split('\n')
      // One repeat is stretched in time by half.
      const text =
        repeat === 4
          ? slow.map((line, i) => (i === 0 ? line : `${Number(line.split(',')[0]) * 1.5},${line.split(',')[1]}`))
          : slow
      files.push(await chosen(`0-255_r${repeat}.csv`, 0, 255, repeat, text.join('\n')))
    }
    const { sweepId } = await ended((await start(files)).jobId)
    const { rows } = await bench.core.captures.list(
      captureFilterSchema.parse({ recipeHash: bench.state().recipeHash, sweepId, flag: 'differs-from-repeats' }),
    )
    expect(rows.map(({ info }) => info.source)).toEqual(['0-255_r4.csv'])
  })

  it('is taken back and put back; nothing is lost by either', async () => {
    const { sweepId } = await ended((await start([await chosen('0-255.csv', 0, 255)])).jobId)
    const id = sweepId ?? 0
    const everything = captureFilterSchema.parse({ recipeHash: bench.state().recipeHash })
    expect((await bench.core.captures.list(everything)).total).toBe(1)
    expect(await bench.core.sweeps.hide({ sweepId: id, hidden: true })).toMatchObject({ id, hidden: true })
    expect(await bench.core.sweeps.list({})).toEqual([])
    expect((await bench.core.captures.list(everything)).total).toBe(0)
    expect((await bench.core.captures.list({ ...everything, campaignId })).total).toBe(0)
    expect(await bench.store.unmeasured('0000000000000000', {})).toEqual([])
    expect(await bench.core.sweeps.list({ includeHidden: true })).toMatchObject([{ id, hidden: true, done: 1 }])
    expect((await bench.store.trace(1)).samples.length).toBe(1500)
    await bench.core.sweeps.hide({ sweepId: id, hidden: false })
    expect((await bench.core.captures.list(everything)).total).toBe(1)
    await expect(bench.core.sweeps.hide({ sweepId: 99, hidden: true })).rejects.toMatchObject({ code: 'not-found' })
  })

  it('cancelled, leaves nothing in the lists', async () => {
    const files: Chosen[] = []
    for (let repeat = 1; repeat <= 30; repeat++) files.push(await chosen(`0-255_r${repeat}.csv`, 0, 255, repeat))
    const { jobId } = await start(files)
    await bench.until(({ jobs }) => jobs.some(({ done }) => done >= 2), 'the second recording')
    await bench.core.jobs.cancel({ jobId })
    const report = await ended(jobId)
    expect(report).toMatchObject({ state: 'cancelled', failure: { code: 'cancelled' } })
    expect(report.captures).toBeLessThan(30)
    expect(await bench.core.sweeps.list({})).toEqual([])
    const [hidden] = await bench.core.sweeps.list({ includeHidden: true })
    expect(hidden).toMatchObject({ id: report.sweepId, hidden: true, state: 'stopped', done: report.captures })
  })

  it('fails by name when nothing can be read, and stores nothing', async () => {
    const report = await ended((await start([await chosen('letter.csv', 0, 255, 1, 'a letter,\n')])).jobId)
    expect(report).toMatchObject({
      state: 'failed',
      sweepId: null,
      captures: 0,
      failure: { code: 'import-unreadable' },
    })
    expect(report.failure?.message).toMatch(/^letter\.csv: /)
    expect(await bench.core.sweeps.list({ includeHidden: true })).toEqual([])
  })

  it('refuses at once what makes no sweep', async () => {
    const file = await chosen('0-255.csv', 0, 255)
    await expect(start([file, file])).rejects.toThrow(/given twice/)
    await expect(
      bench.core.files.importStart({ campaignId: 99, setting: 'Off', refreshHz: 60, files: [file] }),
    ).rejects.toMatchObject({ code: 'not-found' })
    await expect(bench.core.jobs.outcome({ jobId: 'import-99' })).rejects.toMatchObject({ code: 'not-found' })
    expect(bench.state().jobs).toEqual([])
  })

  it('says that a file was given up when it is asked for', async () => {
    const file = await chosen('0-255.csv', 0, 255)
    await bench.core.files.unstage({ fileIds: [file.fileId] })
    await expect(
      bench.core.files.importPreview({ fileId: file.fileId, name: 'x', mapping: null, columns: 0 }),
    ).rejects.toMatchObject({ code: 'not-found' })
    const report = await ended((await start([file])).jobId)
    expect(report).toMatchObject({ state: 'failed', failure: { code: 'not-found', remedy: 'Choose it again.' } })
  })
})

describe('an import that the end of the program cut off', () => {
  it('is in no list, and says so in its sweep', async () => {
    const { store } = bench
    const plan = (await store.sweep({ sweepId: await bench.plan() })).plan
    const sweep = await store.createSweep({
      campaignId,
      plan,
      origin: 'imported',
      rigIdentity: 'Imported recordings',
      total: 5,
      hidden: true,
    })
    await bench.core.close()
    const again = await openBenchCore({ archive: bench.archive })
    expect((await again.core.sweeps.list({})).map(({ id }) => id)).not.toContain(sweep.id)
    expect(await again.core.sweeps.get({ sweepId: sweep.id })).toMatchObject({
      state: 'stopped',
      reason: 'The program ended during this import; 0 of 5 recordings are stored.',
    })
    await again.close()
  })
})
