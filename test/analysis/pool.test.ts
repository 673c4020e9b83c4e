import type { Worker } from 'node:worker_threads'
import { afterEach, describe, expect, it } from 'vitest'
import { createPool } from '../../src-main/analysis/pool.ts'
import type { Analyzer } from '../../src-main/core/ports.ts'
import type { MeasureInput } from '../../src-shared/domain/measure-input.ts'
import { measureLight } from '../../src-shared/measure/light.ts'
import { measureCapture } from '../../src-shared/measure/measure-capture.ts'
import { collectingLog } from '../store/fixtures.ts'
import { createInventedWorker } from '../support/workers.ts'
import { DIE, HANG, REFUSE } from './invented-worker.ts'
import { plainInput } from '../support/plain-input.ts'

const threads: Worker[] = []
function createWorker(): Worker {
  const worker = createInventedWorker()
  threads.push(worker)
  return worker
}

let pool: Analyzer | null = null
function open(size = 2, timeoutS = 20): Analyzer {
  pool = createPool({ size, createWorker, log: collectingLog(), timeoutS })
  return pool
}
afterEach(async () => {
  await pool?.close()
  threads.length = 0
})

const input = (first: number): MeasureInput => plainInput(Int16Array.of(first, first), 1000, 1)
const numbers = Array.from({ length: 20 }, (_, i) => i)

describe('pool', () => {
  it('starts no thread before the first job and no more than its size', async () => {
    const analyzer = open(2)
    expect(threads).toHaveLength(0)
    const results = await Promise.all(numbers.map((n) => analyzer.measure(input(n))))
    expect(results.map((result) => result.values.snr)).toEqual(numbers)
    expect(threads).toHaveLength(2)
  })

  it('measures periodic light on a thread, and hands on why it cannot', async () => {
    const analyzer = open(1)
    const samples = Float32Array.from({ length: 8000 }, (_, i) => 1 + 0.3 * Math.sin((2 * Math.PI * 240 * i) / 20_000))
    const trace = { ...input(0).trace, format: 'real32' as const, samples, sampleRateHz: 20_000 }
    const span = { trace, first: 100, end: 7900, darkV: 0 }
    expect(await analyzer.light(span)).toEqual(measureLight(span))
    await expect(analyzer.light({ ...span, end: 9000 })).rejects.toThrow('The span is not within the record.')
    expect(samples).toHaveLength(8000)
  })

  it('explains the uncertainties of a capture: what shared and own causes state is what the result states', async () => {
    const analyzer = open(1)
    const { trace } = input(0)
    const samples = Float32Array.from({ length: 6000 }, (_, i) => {
      const t = Math.max(0, i - 1500) / 200
      return 0.2 + 0.4 * (1 - Math.exp(-t)) + 1e-3 * Math.sin(1e4 * Math.sin(i))
    })
    const step = { ...input(0), trace: { ...trace, format: 'real32' as const, samples, sampleRateHz: 50_000 } }
    const { uncertainties, common } = measureCapture(step)
    const causes = (await analyzer.causes(step)).transition_duration_s ?? []
    expect(causes.length).toBeGreaterThan(0)
    expect(Math.hypot(...causes.map(({ u }) => u))).toBeCloseTo(uncertainties.transition_duration_s ?? 0, 12)
    const shared = causes.filter(({ averages }) => !averages)
    expect(Math.hypot(...shared.map(({ u }) => u))).toBeCloseTo(common?.transition_duration_s ?? 0, 12)
    expect(causes.map(({ u }) => u)).toEqual(causes.map(({ u }) => u).sort((a, b) => b - a))
  })

  it('leaves the caller of one measurement its samples and takes those of a batch', async () => {
    const analyzer = open(1)
    const one = input(5)
    await analyzer.measure(one)
    expect(one.trace.samples).toEqual(Int16Array.of(5, 5))
    const whole = Int16Array.of(1, 1, 8, 8)
    const view = { ...one, trace: { ...one.trace, samples: whole.subarray(2) } }
    const outcomes = await analyzer.measureMany([one, view])
    expect(outcomes).toMatchObject([{ result: { values: { snr: 5 } } }, { result: { values: { snr: 8 } } }])
    expect(one.trace.samples).toHaveLength(0)
    expect(whole).toHaveLength(4)
  })

  it('gives an error of one input as its outcome, with its code', async () => {
    const analyzer = open(1)
    await expect(analyzer.measure(input(REFUSE))).rejects.toMatchObject({ code: 'invalid-input' })
    expect(await analyzer.measureMany([input(1), input(REFUSE), input(2)])).toMatchObject([
      { result: { values: { snr: 1 } } },
      { error: { code: 'invalid-input', message: 'Nothing to measure in it.' } },
      { result: { values: { snr: 2 } } },
    ])
    expect(await analyzer.measureMany([])).toEqual([])
  })

  it('fails the jobs of a thread that dies by name and replaces it', async () => {
    const analyzer = open(1)
    const outcomes = await Promise.allSettled([
      analyzer.measure(input(DIE)),
      ...numbers.map((n) => analyzer.measure(input(n))),
    ])
    const rejected = outcomes.filter((outcome) => outcome.status === 'rejected')
    expect(outcomes[0]?.status).toBe('rejected')
    // The one that was computed and the one that waited inside the thread.
    expect(rejected).toHaveLength(2)
    for (const { reason } of rejected) expect(reason).toMatchObject({ code: 'worker-died' })
    expect(threads).toHaveLength(2)
  })

  it('gives up starting threads that only ever die', async () => {
    const analyzer = open(1)
    const outcomes = await Promise.allSettled(numbers.map(() => analyzer.measure(input(DIE))))
    for (const outcome of outcomes) expect(outcome).toMatchObject({ reason: { code: 'worker-died' } })
    expect(threads).toHaveLength(3)
  })

  it('stops a thread that does not answer in time and goes on', async () => {
    const analyzer = open(1, 1)
    const hanging = analyzer.measure(input(HANG))
    await expect(hanging).rejects.toMatchObject({ code: 'timeout' })
    expect((await analyzer.measure(input(3))).values.snr).toBe(3)
  })

  it('cancels what waits and what runs, and nothing else', async () => {
    const analyzer = open(1)
    const abort = new AbortController()
    const mine = Promise.allSettled(numbers.map((n) => analyzer.measure(input(n), abort.signal)))
    const other = analyzer.measure(input(99))
    abort.abort()
    for (const outcome of await mine) expect(outcome).toMatchObject({ reason: { code: 'cancelled' } })
    expect((await other).values.snr).toBe(99)
    await expect(analyzer.measure(input(1), abort.signal)).rejects.toMatchObject({ code: 'cancelled' })
  })

  it('rejects what is left when it is closed', async () => {
    const analyzer = open(1)
    const left = Promise.allSettled(numbers.map((n) => analyzer.measure(input(n))))
    await analyzer.close()
    for (const outcome of await left) expect(outcome).toMatchObject({ reason: { code: 'cancelled' } })
    await expect(analyzer.measure(input(1))).rejects.toMatchObject({ code: 'cancelled' })
  })
})
