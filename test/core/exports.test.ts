/** Exports as jobs, and long records measured elsewhere. */
import { describe, expect, it } from 'vitest'
import type { ExportFile } from '#main/core/ports.ts'
import { createExports } from '#main/core/exports.ts'
import { createHub } from '#main/core/hub.ts'
import { createJobs } from '#main/core/jobs.ts'
import { measureApart } from '#main/core/measure-apart.ts'
import type { JobProgress } from '#shared/domain/job.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import { STATE, recordedLog } from '../transport/fake-core.ts'
import { plainInput } from '../support/plain-input.ts'

const TRACE = { what: 'trace', captureId: 1 } as const
let seconds = 0
const clock = { now: () => seconds }

function opened() {
  const still = { state: () => STATE.rig, onState: () => () => undefined }
  const hub = createHub({
    rig: still as never,
    stimulus: { ...still, state: () => STATE.stimulus } as never,
    store: {} as never,
    log: recordedLog(),
    recipeHash: STATE.recipeHash,
    recipeHashBefore: null,
    warningAcknowledged: false,
  })
  const seen: JobProgress[] = []
  hub.watch((event) => {
    const job = event.kind === 'state' ? event.state.jobs.at(-1) : undefined
    if (job !== undefined) seen.push(job)
  })
  const jobs = createJobs(hub, clock)
  let released = 0
  const file = (pieces: number): ExportFile => ({
    name: 'x.csv',
    unit: 'rows',
    total: pieces * 10,
    async *pieces() {
      try {
        for (let i = 1; i <= pieces; i++) {
          seconds += 2
          yield { bytes: new Uint8Array(3), done: i * 10 }
        }
      } finally {
        released += 1
      }
    },
  })
  const files: ExportFile[] = []
  const open = createExports({
    exporter: { table: async () => files.shift() ?? file(5) },
    publishing: {} as never,
    jobs,
  })
  return { open, jobs, hub, seen, files, file, released: () => released }
}

describe('an export as a job', () => {
  it('is seen with progress and time left, and says what came of it', async () => {
    const on = opened()
    const made = await on.open(TRACE)
    expect(on.hub.state().jobs).toEqual([])
    const leftS: (number | null)[] = []
    for await (const _ of made.pieces()) leftS.push(on.hub.state().jobs[0]?.leftS ?? null)
    // Reports are at most ten a second: the first piece and the last are always told.
    expect(leftS[0]).toBe(8)
    const [job] = on.hub.state().jobs
    expect(job).toMatchObject({ kind: 'export', label: 'Saving x.csv', state: 'finished', done: 50, total: 50 })
    expect(on.jobs.outcome(job?.id ?? '')).toEqual({
      kind: 'export',
      state: 'finished',
      result: { name: 'x.csv', bytes: 15 },
      failure: null,
    })
  })

  it('is cancelled by the person or by a reader that leaves, and lets go of its file', async () => {
    const on = opened()
    const reading = (async () => {
      for await (const _ of (await on.open(TRACE)).pieces()) {
        const [job] = on.hub.state().jobs
        if (job !== undefined && job.state === 'running') on.jobs.cancel(job.id)
      }
    })()
    await expect(reading).rejects.toMatchObject({ code: 'cancelled' })
    for await (const _ of (await on.open(TRACE)).pieces()) break
    expect(on.hub.state().jobs.map(({ state }) => state)).toEqual(['cancelled', 'cancelled'])
    expect(on.released()).toBe(2)
  })

  it('is refused while four are being made', async () => {
    const on = opened()
    const readers = await Promise.all(
      Array.from({ length: 4 }, async () => (await on.open(TRACE)).pieces()[Symbol.asyncIterator]()),
    )
    for (const reader of readers) await reader.next()
    await expect(on.open(TRACE)).rejects.toMatchObject({ code: 'conflict' })
    await readers[0]?.return?.()
    await expect(on.open(TRACE)).resolves.toMatchObject({ name: 'x.csv' })
  })
})

describe('measuring single captures', () => {
  const asked: number[] = []
  const measure = measureApart({
    measure: async (input) => {
      asked.push(input.trace.samples.length)
      throw new Error('elsewhere')
    },
  })
  const input = (samples: number): MeasureInput => plainInput(new Int16Array(samples), 50_000, 1e-4)

  it('leaves long records to another thread, however long, and does short ones at once', async () => {
    await expect(measure(input(100_001))).rejects.toThrow('elsewhere')
    await expect(measure(input(4_000_000))).rejects.toThrow('elsewhere')
    expect((await measure(input(1000))).landmarks.crossMidS).toBeNull()
    expect(asked).toEqual([100_001, 4_000_000])
  })
})
