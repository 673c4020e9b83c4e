/** Frame timestamps of the page's own loop, and what can be said from them. */
import { median } from '#shared/signal/statistics.ts'

/** An interval longer than this many medians means that a frame was not shown. */
const DROP_FACTOR = 1.5
const KEPT = 1024

function intervalsOf(times: readonly number[]): number[] {
  return times.slice(1).map((time, i) => time - (times[i] ?? time))
}

/** Median frame interval and its spread (median absolute deviation × 1.4826, the normal sigma), ms. */
export function frameStatistics(times: readonly number[]): { medianFrameMs: number; spreadMs: number; frames: number } {
  const intervals = intervalsOf(times)
  const medianFrameMs = median(intervals) ?? NaN
  const spreadMs = 1.4826 * (median(intervals.map((interval) => Math.abs(interval - medianFrameMs))) ?? NaN)
  return { medianFrameMs, spreadMs, frames: intervals.length }
}

/** Whether any interval is longer than 1.5 medians. */
export function hasDrop(times: readonly number[], medianFrameMs: number): boolean {
  return intervalsOf(times).some((interval) => interval > DROP_FACTOR * medianFrameMs)
}

export interface FrameClock {
  /** Resolves in the next animation frame with its timestamp, ms. */
  next(): Promise<number>
  /** The newest timestamps, oldest first. */
  recent(count: number): number[]
  /** Median interval of what is kept, ms. */
  medianFrameMs(): number
}

/**
 * A loop that never rests: browsers may run a first callback after idle time at once instead of at a frame, so the
 * loop has to be running already when a switch is asked for.
 */
export function startFrameClock(requestFrame: (callback: (time: number) => void) => unknown): FrameClock {
  const times: number[] = []
  let waiting: ((time: number) => void)[] = []
  const tick = (time: number): void => {
    requestFrame(tick)
    times.push(time)
    if (times.length > KEPT) times.splice(0, times.length - KEPT)
    const now = waiting
    waiting = []
    for (const resolve of now) resolve(time)
  }
  requestFrame(tick)
  return {
    next: () => new Promise((resolve) => waiting.push(resolve)),
    recent: (count) => times.slice(-count),
    medianFrameMs: () => median(intervalsOf(times.slice(-240))) ?? NaN,
  }
}
