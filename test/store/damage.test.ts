/** Damaged files: noticed, refused with a way on, and everything readable brought over unchanged. */
import {
  mkdirSync,
  closeSync,
  copyFileSync,
  existsSync,
  openSync,
  readdirSync,
  readFileSync,
  readSync,
  rmSync,
  statSync,
  writeSync,
} from 'node:fs'
import Database from 'better-sqlite3'
import { afterAll, beforeAll, beforeEach, afterEach, describe, expect, it } from 'vitest'
import type { Store } from '../../src-main/core/ports.ts'
import { AppError } from '../../src-shared/domain/errors.ts'
import { closeArchive, openArchive, PAGE_SIZE } from '../../src-main/store/archive.ts'
import { OPERATIONS } from '../../src-main/store/operations.ts'
import { describeSalvage } from '../../src-main/store/salvage-report.ts'
import { salvage as salvageHere } from '../../src-main/store/salvage.ts'
import { salvageArchive } from '../../src-main/store/store.ts'
import { campaignPlanSchema } from '../../src-shared/domain/campaign-plan.ts'
import { latencyPlanSchema } from '../../src-shared/domain/latency.ts'
import { USUAL_JUDGEMENT } from '../../src-shared/findings/campaign/figures.ts'
import { DEFAULT_RECIPE } from '../../src-shared/domain/recipe.ts'
import { createStoreWorker } from '../support/workers.ts'
import { seededRandom } from '../../src-shared/domain/seeded-random.ts'
import {
  clock,
  collectingLog,
  filter,
  HASH,
  openTestStore,
  PLAN,
  temporaryFolder,
  testCapture,
  testFlag,
  testReading,
  testResult,
  testTrace,
} from './fixtures.ts'
import { sweepIn } from './in-thread.ts'
import { SEED } from '../support/seed.ts'

const CAPTURES = 60
const SAMPLES = 3000
const original = temporaryFolder()
let folder: ReturnType<typeof temporaryFolder>
let path: string

beforeAll(() => {
  const archive = openArchive({ path: `${original.path}/whole`, algorithm: '1', at: clock.iso() })
  archive.db.pragma('synchronous = OFF')
  OPERATIONS.saveRecipe(archive, DEFAULT_RECIPE)
  const sweepId = sweepIn(archive, CAPTURES)
  for (let position = 0; position < CAPTURES; position++) {
    const trace = testTrace(position, SAMPLES)
    const { id } = OPERATIONS.addCapture(
      archive,
      testCapture(sweepId, position, { trace }),
      testResult({ snr: position }, [testFlag('hum')]),
    )
    if (position % 5 === 0)
      OPERATIONS.addReview(archive, {
        captureId: id,
        decision: 'exclude',
        reason: 'Invented.',
        reviewer: 'A',
        override: null,
      })
    if (position % 10 === 0) OPERATIONS.addNote(archive, { captureId: id, text: `Note ${position}.`, reviewer: 'A' })
    OPERATIONS.log(archive, { sweepId, level: 'info', text: `Captured ${position}.` })
  }
  OPERATIONS.setRecipesInUse(archive, { current: HASH, before: null })
  closeArchive(archive)
})
afterAll(() => {
  original.remove()
})

beforeEach(() => {
  folder = temporaryFolder()
  path = `${folder.path}/archive.slewlight`
  copyFileSync(`${original.path}/whole`, path)
})
afterEach(() => {
  folder.remove()
})

function overwrite(offset: number, bytes: Uint8Array): void {
  const file = openSync(path, 'r+')
  writeSync(file, bytes, 0, bytes.length, offset)
  closeSync(file)
}

function junk(length: number, seed: number): Uint8Array {
  const next = seededRandom(seed)
  return Uint8Array.from({ length }, () => Math.floor(256 * next()))
}

/** As after a crash: opening checks the file. */
function markUnclean(): void {
  const db = new Database(path)
  db.exec("UPDATE archive SET value = 'open' WHERE key = 'state'")
  db.close()
}

const salvage = (): ReturnType<typeof salvageArchive> =>
  salvageArchive({ path, createWorker: createStoreWorker, clock, log: collectingLog() })

type Reader = {
  [K in 'captures' | 'trace' | 'result']: (
    ...args: Parameters<Store[K]>
  ) => Awaited<ReturnType<Store[K]>> | ReturnType<Store[K]>
}

/** Every capture that is there is the one that was stored; answers with their positions. */
async function checkAll(store: Reader): Promise<number[]> {
  const { rows } = await store.captures(filter({ limit: 5000 }))
  for (const { info, values, review } of rows) {
    expect(await store.trace(info.id)).toEqual(testTrace(info.position, SAMPLES))
    if (values !== null) {
      expect(values.snr).toBe(info.position)
      expect(await store.result(info.id, HASH)).toEqual(testResult({ snr: info.position }, [testFlag('hum')]))
    }
    expect(review === null || info.position % 5 === 0).toBe(true)
  }
  return rows.map((row) => row.info.position)
}

describe('a damaged archive', () => {
  it('of which the beginning is gone is refused, set aside, and its captures are brought over', async () => {
    overwrite(0, junk(PAGE_SIZE, 1))
    await expect(openTestStore(path)).rejects.toMatchObject({
      code: 'archive-damaged',
      remedy: expect.stringContaining('Salvage') as string,
    })
    const report = await salvage()
    expect(report).toMatchObject({ campaigns: 1, sweeps: 1, captures: CAPTURES, lostCaptures: [] })
    expect(report).toMatchObject({ reviews: CAPTURES / 5, notes: CAPTURES / 10 })
    expect(statSync(report.asidePath).size).toBe(statSync(`${original.path}/whole`).size)
    const store = await openTestStore(path)
    expect(await checkAll(store)).toHaveLength(CAPTURES)
    await store.close()
  })

  it('of which nothing is left is replaced by an empty one that says so', async () => {
    const pages = statSync(path).size / PAGE_SIZE
    overwrite(0, junk(pages * PAGE_SIZE, 1))
    const report = await salvage()
    expect(report).toMatchObject({ campaigns: 0, captures: 0, lostCaptures: [] })
    const store = await openTestStore(path)
    expect((await store.info()).captures).toBe(0)
    expect(await store.events({ limit: 1 })).toMatchObject([{ level: 'warn', text: describeSalvage(report) }])
    await store.close()
  })

  it('is found by the check after an unclean end, and what is readable is brought over', async () => {
    markUnclean()
    const size = statSync(path).size
    for (const share of [0.3, 0.55, 0.8])
      overwrite(Math.floor((share * size) / PAGE_SIZE) * PAGE_SIZE, junk(2 * PAGE_SIZE, 1 + 10 * share))
    await expect(openTestStore(path)).rejects.toMatchObject({ code: 'archive-damaged' })
    const report = await salvage()
    expect(existsSync(report.asidePath)).toBe(true)
    const store = await openTestStore(path)
    const positions = await checkAll(store)
    expect(positions).toHaveLength(report.captures)
    expect(report.captures).toBeGreaterThan(CAPTURES / 2)
    expect(report.captures).toBeLessThan(CAPTURES)
    // Ids are those of the damaged archive, one per position from 1.
    expect([...positions.map((position) => position + 1), ...report.lostCaptures].sort((a, b) => a - b)).toEqual(
      Array.from({ length: CAPTURES }, (_, i) => i + 1),
    )
    // The new archive is whole and goes on.
    const [sweep] = await store.sweeps({})
    await store.addCapture(testCapture(sweep?.id ?? 0, CAPTURES), testResult())
    await store.close()
    const db = new Database(path, { readonly: true })
    expect(db.pragma('integrity_check', { simple: true })).toBe('ok')
    expect(db.pragma('foreign_key_check')).toEqual([])
    db.close()
  })

  it('never gives a wrong number back, wherever the damage is', async () => {
    const seed = SEED
    process.stdout.write(`overwritten pages: seed ${seed}\n`)
    for (let run = 0; run < 12; run++) {
      copyFileSync(`${original.path}/whole`, path)
      const next = seededRandom(seed + run)
      const pages = statSync(path).size / PAGE_SIZE
      for (let n = 0; n < 6; n++)
        overwrite((1 + Math.floor(next() * (pages - 1))) * PAGE_SIZE, junk(PAGE_SIZE, seed + 7 * run + n))
      const report = salvageHere({ path, at: `run ${run}` })
      const archive = openArchive({ path, algorithm: '1', at: clock.iso() })
      const positions = await checkAll({
        captures: (asked) => OPERATIONS.captures(archive, asked),
        trace: (id) => OPERATIONS.trace(archive, id),
        result: (id, hash) => OPERATIONS.result(archive, id, hash),
      })
      expect({ seed, run, captures: positions.length }).toEqual({ seed, run, captures: report.captures })
      closeArchive(archive)
      rmSync(path)
    }
  })

  it('with one changed byte in a trace is noticed when that trace is read, and only then', async () => {
    const trace = testTrace(20, SAMPLES).samples
    const needle = Buffer.from(trace.buffer, 1000, 16)
    const whole = Buffer.alloc(statSync(path).size)
    const file = openSync(path, 'r')
    readSync(file, whole)
    closeSync(file)
    const at = whole.indexOf(needle)
    expect(at).toBeGreaterThan(0)
    overwrite(at, Uint8Array.of((needle[0] ?? 0) ^ 1))
    const store = await openTestStore(path)
    await expect(store.trace(21)).rejects.toMatchObject({
      code: 'archive-damaged',
      message: expect.stringContaining('capture 21') as string,
    })
    expect(await store.trace(20)).toEqual(testTrace(19, SAMPLES))
    await store.close()
    expect((await salvage()).lostCaptures).toEqual([21])
  })
})

describe('salvage', () => {
  it('that cannot be finished leaves the damaged archive in its place', async () => {
    mkdirSync(`${path}.salvage`)
    await expect(salvage()).rejects.toThrow(AppError)
    expect(statSync(path).size).toBe(statSync(`${original.path}/whole`).size)
    expect(readdirSync(folder.path).filter((name) => name.includes('damaged'))).toEqual([])
  })

  it('refuses a whole archive', async () => {
    await expect(salvage()).rejects.toMatchObject({
      code: 'conflict',
      message: expect.stringContaining('nothing to salvage') as string,
    })
    expect(readdirSync(folder.path).filter((name) => /damaged|salvage/.test(name))).toEqual([])
  })

  it('brings everything over where only an index is damaged', async () => {
    const db = new Database(path, { readonly: true })
    const root = db.prepare("SELECT rootpage FROM sqlite_schema WHERE name = 'capture_levels'").pluck().get()
    db.close()
    overwrite((Number(root) - 1) * PAGE_SIZE, new Uint8Array(PAGE_SIZE))
    const report = await salvage()
    expect(report).toMatchObject({
      campaigns: 1,
      sweeps: 1,
      captures: CAPTURES,
      lostCaptures: [],
      results: CAPTURES,
      reviews: CAPTURES / 5,
      notes: CAPTURES / 10,
    })
    const store = await openTestStore(path)
    expect(await checkAll(store)).toHaveLength(CAPTURES)
    expect(await store.unmeasured(HASH, {})).toEqual([])
    expect((await store.captures(filter({ review: 'exclude' }))).total).toBe(CAPTURES / 5)
    expect((await store.captures(filter({ noted: true }))).total).toBe(CAPTURES / 10)
    expect(await store.recipesInUse()).toEqual({ current: HASH, before: null })
    // The one order of reviews and notes survives.
    expect(await store.history({ limit: 3 })).toMatchObject([
      { id: CAPTURES / 5 + CAPTURES / 10, kind: 'review' },
      { kind: 'note', text: `Note ${CAPTURES - 10}.` },
      { kind: 'review' },
    ])
    expect((await store.events({ limit: 1000 })).map(({ text }) => text)).toEqual([
      ...Array.from({ length: CAPTURES }, (_, i) => `Captured ${i}.`),
      describeSalvage(report),
    ])
    await store.close()
  })

  it('brings over what people chose and the records of input latency, where the beginning is gone', async () => {
    const before = await openTestStore(path)
    const judgement = { ...USUAL_JUDGEMENT, weighting: 'trapezoid' as const }
    await before.judge({ campaignId: 1, judgement })
    const [template] = await before.savePlanTemplate({
      name: 'Two settings',
      plan: campaignPlanSchema.parse({ settings: ['Off', 'Strong'], refreshHz: [60], sweep: PLAN }),
    })
    const plan = latencyPlanSchema.parse({ refreshHz: 60 })
    const run = await before.createLatencyRun({ campaignId: 1, plan, rigIdentity: 'Invented' })
    const event = {
      runId: run.id,
      position: 0,
      takenAt: clock.iso(),
      triggerIndex: 400,
      second: null,
      handlerMs: null,
      trace: testTrace(7, SAMPLES),
    }
    await before.addLatencyEvent(event)
    const reading = await before.addReading(testReading(1))
    await before.endLatencyRun({ runId: run.id, readingId: reading.id })
    await before.addNote({ captureId: 50, text: '60', reviewer: 'A' })
    const notes = CAPTURES / 10 + 1
    await before.close()
    overwrite(0, junk(PAGE_SIZE, 2))
    // Rows of runs and notes are of the same kinds of values, and a note may be JSON: each comes back as what it was.
    expect(await salvage()).toMatchObject({ campaigns: 1, sweeps: 1, captures: CAPTURES, notes })
    const store = await openTestStore(path)
    expect(await store.judgement({ campaignId: 1 })).toEqual(judgement)
    expect(await store.planTemplates()).toEqual([template])
    expect(await store.latencyRuns({})).toEqual([{ ...run, events: 1, readingId: reading.id }])
    expect((await store.campaigns()).map(({ id }) => id)).toEqual([1])
    expect(await store.latencyEvents({ runId: run.id, from: 0, limit: 10 })).toEqual([event])
    await store.close()
  })

  /** Events at these positions of a run of its own, whose id is the answer. */
  async function addEvents(
    positions: readonly number[],
    second: (position: number) => ReturnType<typeof testTrace> | null,
  ): Promise<number> {
    const store = await openTestStore(path)
    const plan = latencyPlanSchema.parse({ refreshHz: 60 })
    const { id: runId } = await store.createLatencyRun({ campaignId: 1, plan, rigIdentity: 'Invented' })
    for (const position of positions)
      await store.addLatencyEvent({
        runId,
        position,
        takenAt: clock.iso(),
        triggerIndex: 400,
        handlerMs: null,
        trace: testTrace(1000 + position, SAMPLES),
        second: second(position),
      })
    await store.close()
    return runId
  }

  it('names a latency record with a flipped bit, in either of its channels, and salvage leaves out just that one', async () => {
    const runId = await addEvents([1, 2, 3], (position) =>
      position === 2 ? null : testTrace(2000 + position, SAMPLES),
    )
    const placeOf = (seed: number): number => {
      const { samples } = testTrace(seed, SAMPLES)
      const at = readFileSync(path).indexOf(Buffer.from(samples.buffer, samples.byteOffset, 16))
      expect(at).toBeGreaterThan(0)
      return at
    }
    const flip = (at: number): void => overwrite(at, Buffer.from([(readFileSync(path)[at] ?? 0) ^ 1]))
    const [first, second] = [placeOf(1003), placeOf(2003)]
    const named = async (): Promise<void> => {
      const store = await openTestStore(path)
      await expect(store.latencyEvents({ runId, from: 1, limit: 10 })).rejects.toMatchObject({
        code: 'archive-damaged',
        message: `The record of event 3 of latency run ${runId} differs from what was stored.`,
      })
      expect(await store.latencyEvents({ runId, from: 1, limit: 2 })).toHaveLength(2)
      await store.close()
    }
    flip(first)
    await named()
    flip(first)
    flip(second)
    await named()
    await salvage()
    const store = await openTestStore(path)
    const events = await store.latencyEvents({ runId, from: 1, limit: 10 })
    expect(events.map(({ position }) => position)).toEqual([1, 2])
    await store.close()
  })

  it('leaves out a latency record whose last page was overwritten, where only its pages tell of it', async () => {
    const runId = await addEvents([0, 1], () => null)
    const samples = testTrace(1001, SAMPLES).samples
    const end = readFileSync(path).indexOf(Buffer.from(samples.buffer, samples.byteLength - 16, 16))
    expect(end).toBeGreaterThan(0)
    overwrite(Math.floor(end / PAGE_SIZE) * PAGE_SIZE, junk(PAGE_SIZE, 3))
    overwrite(0, junk(PAGE_SIZE, 2))
    await salvage()
    const store = await openTestStore(path)
    const events = await store.latencyEvents({ runId, from: 0, limit: 10 })
    expect(events.map(({ position, trace }) => [position, trace])).toEqual([[0, testTrace(1000, SAMPLES)]])
    await store.close()
  })

  it('keeps captures whose sweep is lost, under a sweep that says so', async () => {
    const db = new Database(path)
    db.pragma('foreign_keys = OFF')
    db.exec('DELETE FROM sweep; DELETE FROM campaign')
    db.close()
    const report = await salvage()
    expect(report.captures).toBe(CAPTURES)
    expect(describeSalvage(report)).toMatch(/^60 captures were copied .* 0 sweeps, .* No capture is known to be lost/)
    const store = await openTestStore(path)
    expect(await store.sweeps({})).toMatchObject([
      { state: 'failed', reason: expect.stringContaining('lost') as string },
    ])
    expect(await checkAll(store)).toHaveLength(CAPTURES)
    await store.close()
  })

  it('touches nothing that is in use, newer or not there', async () => {
    const store = await openTestStore(path)
    await expect(salvage()).rejects.toMatchObject({ code: 'archive-locked' })
    await store.close()
    const db = new Database(path)
    db.pragma('user_version = 9999')
    db.close()
    await expect(salvage()).rejects.toMatchObject({ code: 'archive-newer' })
    expect(readdirSync(folder.path).filter((name) => name.includes('damaged'))).toEqual([])
    path += '-elsewhere'
    await expect(salvage()).rejects.toMatchObject({ code: 'not-found' })
  })
})
