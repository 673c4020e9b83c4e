/** What a simulated display shows at one instant. */
import { lightOf, segmentAt, type CellSegment } from '#main/rig/simulated/panel/cell.ts'
import type { Display } from '#main/rig/simulated/panel/display.ts'

/** Relative luminance of a timeline at a time, backlight left aside. */
export function lightAt(segments: readonly CellSegment[], timeS: number): number {
  return lightOf(segments[segmentAt(segments, timeS)] as CellSegment, timeS)
}

/** The level in force in a frame. */
export function levelAt(display: Display, timeS: number): number {
  const { shown } = display
  for (let i = shown.length - 1; i > 0; i--) {
    const entry = shown[i] as { frameS: number; level: number }
    if (entry.frameS <= timeS) return entry.level
  }
  return (shown[0] as { level: number }).level
}
