import type { Worker } from 'node:worker_threads'
import { AppError } from '#shared/domain/errors.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import type { Picture, PictureJob, PictureKind, PictureRequest } from '#shared/measure/pictures.ts'
import type { Analyzer, Log } from '#main/core/ports.ts'
import { type CallOptions, Threads } from '#main/threads/threads.ts'
import type { AnalysisCalls } from './calls.ts'

export interface PoolOptions {
  /** Threads at most; they start when first needed. */
  readonly size: number
  /** Starts `analysis/worker.ts` as a worker thread. */
  readonly createWorker: () => Worker
  readonly log: Log
  /** One measurement that takes longer than this is given up and its thread replaced, s; a batch gets √n times as long. */
  readonly timeoutS?: number
}

/** Jobs inside a thread, so that it never idles while its last answer is on its way. */
const DEPTH = 2
const TIMEOUT_S = 60

const late = (seconds: number): AppError =>
  new AppError('timeout', `A measurement took longer than ${seconds.toFixed(0)} s.`, 'Use a shorter record.')
const cancelled = (): AppError => new AppError('cancelled', 'The measurement was cancelled.')

/** Threads that measure. Starts none before the first job. Closing rejects what is left with `cancelled`. */
export function createPool({ size, createWorker, log, timeoutS = TIMEOUT_S }: PoolOptions): Analyzer {
  const concurrency = Math.max(1, Math.floor(size))
  const threads = new Threads<AnalysisCalls>({
    createWorker,
    size: concurrency,
    depth: DEPTH,
    log,
    words: {
      thread: 'An analysis thread',
      lost: (problem) =>
        new AppError('worker-died', `The thread that measured this capture ended (${problem}).`, 'Measure it again.'),
      cancelled,
      closed: () => new AppError('cancelled', 'The analysis was closed.'),
      keepsEnding: () => new AppError('worker-died', 'The analysis threads keep stopping.', 'Start the program again.'),
    },
  })
  const limits = (signal: AbortSignal | undefined): CallOptions => ({
    signal,
    limit: { seconds: timeoutS, error: late },
  })
  return {
    concurrency,
    measure: (input, signal) => threads.call('measure', [input], 'a capture', limits(signal)),
    async measureMany(inputs, signal) {
      if (inputs.length === 0) return []
      const transfer = new Set<ArrayBuffer>()
      const moved = inputs.map((input) => movable(input, transfer))
      return threads.call('measureMany', [moved], 'captures', {
        signal,
        transfer: [...transfer],
        limit: { seconds: timeoutS * Math.sqrt(inputs.length), error: late },
      })
    },
    light: (input, signal) => threads.call('light', [input], 'light', limits(signal)),
    causes: (input, signal) => threads.call('causes', [input], 'the causes of an uncertainty', limits(signal)),
    picture: <K extends PictureKind>(kind: K, request: PictureRequest<K>, signal?: AbortSignal) =>
      threads.call('picture', [{ kind, request } as PictureJob], 'a picture', limits(signal)) as Promise<Picture<K>>,
    close: () => threads.close(),
  }
}

/** The samples as memory of their own that can be handed over; views into larger memory are copied first. */
function movable(input: MeasureInput, transfer: Set<ArrayBuffer>): MeasureInput {
  const { samples } = input.trace
  const own = samples.byteLength === samples.buffer.byteLength && !transfer.has(samples.buffer as ArrayBuffer)
  const moved = own ? samples : samples.slice()
  transfer.add(moved.buffer as ArrayBuffer)
  return own ? input : { ...input, trace: { ...input.trace, samples: moved } }
}
