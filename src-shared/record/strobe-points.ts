/** Strobing measured at places of the screen: single readings, each with its uncertainty, setting and refresh rate. */
import type { Reading } from '#shared/domain/reading.ts'

export const STROBE_PLACES = { top: 0.05, centre: 0.5, bottom: 0.95 } as const
export type StrobePlace = keyof typeof STROBE_PLACES

/** `crosstalk` is that of the brightening step, `crosstalk_fall` that of the darkening one; both are signed. */
export const STROBE_UNITS = { pulse_width: 'ms', phase: 'ms', duty: '%', crosstalk: '%', crosstalk_fall: '%' } as const
export type StrobeQuantity = keyof typeof STROBE_UNITS

export interface StrobePoint {
  readonly setting: string
  readonly refreshHz: number
  readonly place: StrobePlace
  readonly quantity: StrobeQuantity
  readonly value: number
  /** Standard uncertainty; null when none is stated. */
  readonly u: number | null
  readonly readingId: number
}

export const STROBE_KIND = 'strobe'

const CONTEXT = /^Setting (.+) at ([\d.]+) Hz\./

/** Setting and refresh rate of a reading; earlier versions, and bundles made by them, have both in its note alone. */
function contextOf({ setting, refreshHz, note }: Reading): Pick<StrobePoint, 'setting' | 'refreshHz'> | null {
  if (setting !== null && refreshHz !== null) return { setting, refreshHz }
  const [, said, hz] = CONTEXT.exec(note) ?? []
  return said === undefined || hz === undefined ? null : { setting: said, refreshHz: Number(hz) }
}

/** What a reading says of strobing; null for any other. */
function strobePoint(reading: Reading): StrobePoint | null {
  const { kind, quantity, place, value, u, id: readingId } = reading
  const context = kind === STROBE_KIND ? contextOf(reading) : null
  if (value === null || context === null) return null
  if (!(quantity in STROBE_UNITS) || !(place in STROBE_PLACES)) return null
  return {
    ...context,
    place: place as StrobePlace,
    quantity: quantity as StrobeQuantity,
    value,
    u,
    readingId,
  }
}

/** One of each setting, refresh rate, place and quantity, the newest; readings come in the order they were taken. */
export function strobePoints(readings: readonly Reading[]): StrobePoint[] {
  const found = new Map<string, StrobePoint>()
  for (const reading of readings) {
    const point = reading.hidden ? null : strobePoint(reading)
    if (point === null) continue
    const { setting, refreshHz, place, quantity } = point
    found.set(JSON.stringify([setting, refreshHz, place, quantity]), point)
  }
  return [...found.values()]
}
