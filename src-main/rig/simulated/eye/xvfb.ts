/** The eye: a photodiode that looks at pixels of an X screen without a screen (`Xvfb -fbdir`). */
import { closeSync, openSync, readSync } from 'node:fs'
import { Worker } from 'node:worker_threads'
import { AppError } from '#shared/domain/errors.ts'
import type { SimClock } from '../sim-clock.ts'
import { RING, TIME_COUNT, watchLoop, WORD_COUNT, WORDS, type WatchInput } from './watch-loop.ts'
import { parseXwdHeader, rowsOf, XWD_HEADER_BYTES, type EyePatch } from './xwd.ts'

export interface EyePlace extends EyePatch {
  readonly path: string
}

interface SeenChange {
  /** Time on the bench's clock, s. */
  readonly timeS: number
  readonly level: number
}

/** A source of level changes that happened already. */
export interface Watcher {
  /** Changes not yet told, oldest first, and the time up to which there can be no others. */
  look(): { readonly untilS: number; readonly changes: readonly SeenChange[] }
}

export interface Eye extends Watcher {
  /** Looks since it was opened. */
  readonly looks: number
  close(): Promise<void>
}

const PAUSE_MS = 0.15

/** `xvfb:FILE,x,y,size`, the last three in pixels. */
export function parseEye(text: string): EyePlace {
  const match = /^xvfb:(.+),(\d{1,5}),(\d{1,5}),(\d{1,5})$/.exec(text)
  if (!match)
    throw new AppError(
      'invalid-input',
      `"${text}" does not say where the eye looks.`,
      'Write xvfb:FILE,x,y,size with pixels, for example xvfb:/tmp/fb/Xvfb_screen0,300,220,40.',
    )
  const [, path = '', x, y, size] = match
  return { path, x: Number(x), y: Number(y), size: Number(size) }
}

/** Rejects with `not-found` or `invalid-input` when the file is not there or no screen. */
export async function openEye(place: EyePlace, clock: Pick<SimClock, 'now'>): Promise<Eye> {
  const layout = parseXwdHeader(readHeader(place.path))
  const { positions, bytes } = rowsOf(layout, place)
  const words = new SharedArrayBuffer(4 * WORD_COUNT)
  const times = new SharedArrayBuffer(8 * TIME_COUNT)
  const word = new Int32Array(words)
  const time = new BigInt64Array(times)
  const input: WatchInput = {
    path: place.path,
    positions,
    bytes,
    channels: layout.channels,
    words,
    times,
    pauseMs: PAUSE_MS,
    layout: { words: WORDS, ring: RING },
  }
  const code = `const { workerData } = require('node:worker_threads'); (${watchLoop.toString()})(workerData, require('node:fs'))`
  const worker = new Worker(code, { eval: true, workerData: input })
  let failure = ''
  const ended = new Promise<void>((resolve) => {
    worker.on('error', (error: Error) => {
      failure = error.message
    })
    worker.on('exit', () => resolve())
  })
  // Both clocks are monotonic and run alike; they differ by where they start.
  const zeroS = clock.now() - Number(process.hrtime.bigint()) / 1e9
  const toClock = (ns: bigint): number => zeroS + Number(ns) / 1e9
  let told = 0
  let untilS = clock.now()

  const eye: Eye = {
    get looks() {
      return Atomics.load(word, WORDS.looks)
    },
    look() {
      if (Atomics.load(word, WORDS.failed) !== 0) {
        // A screen that is gone is dark news, but no reason to hold every record up for ever.
        untilS = clock.now()
        return { untilS, changes: [] }
      }
      const until = Atomics.load(time, 0)
      const head = Atomics.load(word, WORDS.head)
      told = Math.max(told, head - RING)
      const changes: SeenChange[] = []
      for (; told < head; told++)
        changes.push({
          timeS: toClock(Atomics.load(time, 1 + (told % RING))),
          level: Atomics.load(word, WORDS.codes + (told % RING)),
        })
      if (until > 0n) untilS = Math.max(untilS, toClock(until))
      return { untilS, changes }
    },
    async close() {
      Atomics.store(word, WORDS.stop, 1)
      Atomics.notify(word, WORDS.stop)
      await ended
    },
  }
  await firstLook(eye, ended, () => failure)
  return eye
}

async function firstLook(eye: Eye, ended: Promise<void>, failure: () => string): Promise<void> {
  let over = false
  void ended.then(() => {
    over = true
    return undefined
  })
  while (eye.looks === 0) {
    if (over) throw new AppError('invalid-input', `The eye could not look at its screen: ${failure()}`)
    // One look after another is what is waited for.
    // oxlint-disable-next-line no-await-in-loop
    await new Promise((resolve) => {
      setTimeout(resolve, 1)
    })
  }
}

function readHeader(path: string): Uint8Array {
  const header = new Uint8Array(XWD_HEADER_BYTES)
  try {
    const file = openSync(path, 'r')
    try {
      return header.subarray(0, readSync(file, header, 0, header.length, 0))
    } finally {
      closeSync(file)
    }
  } catch (error) {
    throw new AppError(
      'not-found',
      `The screen file ${path} cannot be read: ${error instanceof Error ? error.message : String(error)}`,
      'Start Xvfb with -fbdir DIR first, and give DIR/Xvfb_screen0.',
    )
  }
}
