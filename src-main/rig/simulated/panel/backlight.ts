/**
 * The backlight as a periodic gate. `steady` is always 1. `pwm` runs free of the frame clock and swings between 1 and
 * `PWM_FLOOR`, its duty following the brightness. `strobe` gives one pulse a frame at a fixed place of the frame
 * and between them the glow that is left: nothing, unless told.
 */
import type { Backlight } from '#shared/domain/rig.ts'
import type { FrameClock } from './frame-clock.ts'

/** Level of a pulse-width modulated backlight between its pulses, relative to their top. */
export const PWM_FLOOR = 0.2
/** Strobe pulse: start and width as parts of a frame. Rows in the middle were written half a frame before. */
const STROBE_START = 0.86
const STROBE_WIDTH = 0.1

export interface Gate {
  /** High from `startS + n·periodS` for `widthS`; a width of a whole period is always high. */
  readonly startS: number
  readonly periodS: number
  readonly widthS: number
  readonly low: number
}

export interface GateOptions {
  readonly pwmHz: number
  /** Duty of a pulse-width modulated backlight, 0–1. */
  readonly brightness: number
  readonly pwmStartS: number
  /** Share of a strobe's light that is left between its pulses. */
  readonly glow: number
}

export function gateOf(backlight: Backlight, clock: FrameClock, options: GateOptions): Gate {
  if (backlight === 'pwm') {
    const periodS = 1 / options.pwmHz
    return { startS: options.pwmStartS, periodS, widthS: periodS * options.brightness, low: PWM_FLOOR }
  }
  const { startS, periodS } = clock
  if (backlight === 'strobe')
    return { startS: startS + STROBE_START * periodS, periodS, widthS: STROBE_WIDTH * periodS, low: options.glow }
  return { startS, periodS, widthS: periodS, low: 1 }
}

/** Gate level at a time and the next time at which it changes (infinite for a steady one). */
export function gateAt(gate: Gate, timeS: number): { readonly level: number; readonly nextS: number } {
  if (gate.widthS >= gate.periodS) return { level: 1, nextS: Infinity }
  let n = Math.floor((timeS - gate.startS) / gate.periodS)
  // Guards against a floor that rounding put on the wrong side of the edge; an edge belongs to what follows it.
  if (gate.startS + (n + 1) * gate.periodS <= timeS) n += 1
  const rise = gate.startS + n * gate.periodS
  const fall = rise + gate.widthS
  return timeS < fall ? { level: 1, nextS: fall } : { level: gate.low, nextS: gate.startS + (n + 1) * gate.periodS }
}
