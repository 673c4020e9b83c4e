import type { FrameLog } from '#shared/domain/capture.ts'
import type { FrameClock } from './panel/frame-clock.ts'

/** Frames before the switch that a log lists. */
const FRAMES_BEFORE = 4

/** Frame log of a level latched at a frame of the display's own clock; nothing is ever dropped by it. */
export function frameLogOf(clock: FrameClock, frameS: number): FrameLog {
  const frameTimesMs = Array.from(
    { length: FRAMES_BEFORE + 1 },
    (_, i) => (frameS - (FRAMES_BEFORE - i) * clock.periodS) * 1000,
  )
  return { source: 'controller', frameMs: clock.periodS * 1000, switchMs: frameS * 1000, frameTimesMs, dropped: false }
}
