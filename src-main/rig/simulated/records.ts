/** What the simulated rig's converter and level trigger make of volts, without an instrument around them. */
import type { RawTrace } from '#shared/domain/capture.ts'

/** Converter codes as the simulated instrument makes them: volts = code × range ÷ 32768, low bits zero. */
export function codesOf(volts: Float64Array, rangeV: number, bits: number): Int16Array {
  const codes = new Int16Array(volts.length)
  const lsb = 2 ** (16 - bits)
  const perVolt = 32_768 / (rangeV * lsb)
  const top = 2 ** (bits - 1) - 1
  for (let i = 0; i < volts.length; i++) {
    const code = Math.round((volts[i] as number) * perVolt)
    codes[i] = Math.max(-top - 1, Math.min(top, code)) * lsb
  }
  return codes
}

export function traceOf(samples: Int16Array, sampleRateHz: number, rangeV: number): RawTrace {
  return { format: 'int16', samples, sampleRateHz, scaleV: rangeV / 32_768, offsetV: 0, rangeV }
}

/** First sample from `first` on at which the volts have crossed the level in the asked direction; null without one. */
export function crossing(volts: Float64Array, level: number, rising: boolean, first: number): number | null {
  for (let i = Math.max(1, first); i < volts.length; i++) {
    const a = volts[i - 1] as number
    const b = volts[i] as number
    if (rising ? a < level && b >= level : a > level && b <= level) return i
  }
  return null
}
