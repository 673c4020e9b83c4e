/**
 * The simulated display: what was shown when, turned into cell segments and a backlight. A plain value; every change
 * makes a new one, so the same calls with the same times always give the same light.
 */
import type { Backlight, PanelId, SimSetting } from '#shared/domain/rig.ts'
import { drivenSegment, restingSegment, type CellSegment } from './cell.ts'
import { frameClock, nextFrame, rowDelay, type FrameClock } from './frame-clock.ts'
import { gateOf, type Gate, type GateOptions } from './backlight.ts'
import { boostedCode, PANELS, type Panel } from './panels.ts'

export interface DisplayOptions {
  readonly panel: PanelId
  readonly backlight: Backlight
  readonly pwmHz: number
  /** Duty of a pulse-width modulated backlight, 0–1. */
  readonly brightness: number
  /** Share of a strobe's light that is left between its pulses. */
  readonly glow?: number
  readonly refreshHz: number
  readonly setting: SimSetting
  /** Row the detector looks at: 0 top, 1 bottom. */
  readonly row: number
  readonly level: number
  readonly startS: number
  /** From a frame's start to its light at the top of the screen, s. */
  readonly signalDelayS?: number
  /** Offset of the free-running backlight, in parts of its period. */
  readonly pwmPhase: number
}

export interface Display {
  readonly panel: Panel
  readonly backlight: Backlight
  readonly setting: SimSetting
  readonly row: number
  readonly clock: FrameClock
  readonly segments: readonly CellSegment[]
  /** Backlight gates, each in force from `fromS` on; the first also before. */
  readonly gates: readonly { readonly fromS: number; readonly gate: Gate }[]
  readonly light: GateOptions
  readonly signalDelayS: number
  /** Levels latched, newest last: when their frame starts, and the level. */
  readonly shown: readonly { readonly frameS: number; readonly level: number }[]
}

/** Segments and levels that are remembered; older light counts as at rest. */
const MEMORY = 20_000

export function createDisplay(options: DisplayOptions): Display {
  const panel = PANELS[options.panel]
  const clock = frameClock(options.startS, options.refreshHz)
  const light: GateOptions = {
    pwmHz: options.pwmHz,
    brightness: options.brightness,
    pwmStartS: options.startS - options.pwmPhase / options.pwmHz,
    glow: options.glow ?? 0,
  }
  return {
    panel,
    backlight: options.backlight,
    setting: options.setting,
    row: options.row,
    clock,
    segments: [restingSegment(panel, options.level, options.startS)],
    gates: [{ fromS: -Infinity, gate: gateOf(options.backlight, clock, light) }],
    light,
    signalDelayS: options.signalDelayS ?? 0,
    shown: [{ frameS: -Infinity, level: options.level }],
  }
}

/**
 * Asks for a level at a time. It is latched by the first frame that starts afterwards (a later call before that frame
 * replaces it), reaches the row `rowDelay` later and is driven with the setting's boost for exactly one frame.
 */
export function showLevel(display: Display, level: number, timeS: number): { display: Display; frameS: number } {
  const { clock, panel } = display
  const frameS = nextFrame(clock, timeS)
  // Half a period of tolerance: times of the same frame must compare equal whatever the rounding.
  const shown = display.shown.filter((entry) => entry.frameS < frameS - clock.periodS / 2)
  const before = (shown[shown.length - 1] as { level: number }).level
  if (before === level && shown.length === display.shown.length) return { display, frameS }
  const startS = frameS + rowDelay(clock, display.row) + display.signalDelayS
  const segments = trim(display.segments.filter((segment, i) => i === 0 || segment.startS < startS - clock.periodS / 2))
  const last = segments[segments.length - 1] as CellSegment
  if (before === level) {
    // A change was taken back before its frame came: the drive goes on as it was.
    if (last.drive !== level) segments.push(drivenSegment(panel, last, level, startS))
    return { display: { ...display, segments, shown }, frameS }
  }
  const boosted = boostedCode(panel, display.setting, before, level)
  const first = drivenSegment(panel, last, boosted, startS)
  segments.push(first)
  if (boosted !== level) segments.push(drivenSegment(panel, first, level, startS + clock.periodS))
  return { display: { ...display, segments, shown: trim([...shown, { frameS, level }]) }, frameS }
}

/** A new refresh rate from a time on; frames are counted from there. */
export function withRefresh(display: Display, refreshHz: number, timeS: number): Display {
  if (Math.abs(display.clock.periodS * refreshHz - 1) < 1e-12) return display
  const clock = frameClock(timeS, refreshHz)
  const gate = gateOf(display.backlight, clock, display.light)
  return { ...display, clock, gates: trim([...display.gates, { fromS: timeS, gate }]) }
}

/** The detector looks at another height. */
export function withRow(display: Display, row: number): Display {
  return { ...display, row }
}

export function withSetting(display: Display, setting: SimSetting): Display {
  return { ...display, setting }
}

function trim<T>(list: T[]): T[] {
  return list.length > MEMORY ? list.slice(list.length - MEMORY / 2) : list
}
