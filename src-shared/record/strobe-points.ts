/** Strobing measured at places of the screen: single readings, each with its uncertainty, setting and refresh rate. */
import type { NewReading, Reading } from '#shared/domain/reading.ts'

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

/** How a reading's note begins, so that it can be found again. */
export const strobeContext = ({ setting, refreshHz }: Pick<StrobePoint, 'setting' | 'refreshHz'>): string =>
  `Setting ${setting} at ${refreshHz} Hz.`

/** What a reading says of strobing; null for any other. */
function strobePoint(reading: Reading): StrobePoint | null {
  const { kind, quantity, place, value, u, note, id: readingId } = reading satisfies NewReading
  const [, setting, refresh] = CONTEXT.exec(note) ?? []
  if (kind !== STROBE_KIND || value === null || setting === undefined || refresh === undefined) return null
  if (!(quantity in STROBE_UNITS) || !(place in STROBE_PLACES)) return null
  return {
    setting,
    refreshHz: Number(refresh),
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
