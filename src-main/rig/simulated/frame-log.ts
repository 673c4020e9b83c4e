import type { FrameLog } from '#shared/domain/capture.ts'
import type { FrameClock } from './panel/frame-clock.ts'

/** Frame log of a level latched at a frame of the display's own clock; nothing is ever dropped by it. */
export function frameLogOf(clock: FrameClock, frameS: number): FrameLog {
  return { source: 'controller', frameMs: clock.periodS * 1000, switchMs: frameS * 1000, dropped: false }
}
