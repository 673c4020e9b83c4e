/** Frame timing: frame n starts at `startS + n·periodS`; the rows are written during the first `ACTIVE_SHARE` of it. */

export interface FrameClock {
  readonly startS: number
  readonly periodS: number
}

/** Part of a frame during which rows are written; the rest is vertical blanking. */
const ACTIVE_SHARE = 0.95

export function frameClock(startS: number, refreshHz: number): FrameClock {
  return { startS, periodS: 1 / refreshHz }
}

/** Start of the first frame that begins after a time, s. */
export function nextFrame(clock: FrameClock, timeS: number): number {
  const n = Math.floor((timeS - clock.startS) / clock.periodS) + 1
  const start = clock.startS + n * clock.periodS
  return start > timeS ? start : start + clock.periodS
}

/** From the start of a frame to the writing of a row; `row` is 0 at the top and 1 at the bottom, s. */
export function rowDelay(clock: FrameClock, row: number): number {
  return row * ACTIVE_SHARE * clock.periodS
}
