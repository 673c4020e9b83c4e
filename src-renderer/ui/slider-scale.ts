/** Positions of a slider and the values they stand for. */
export interface SliderScale {
  readonly min: number
  readonly max: number
  /** Linear: distance of two positions. */
  readonly step: number
  /** Ratios instead of differences; for quantities over many decades. */
  readonly logarithmic?: boolean
}

/** Positions of a logarithmic slider from end to end. */
const LOG_POSITIONS = 400

export function positionsOf(scale: SliderScale): number {
  return scale.logarithmic === true ? LOG_POSITIONS : Math.round((scale.max - scale.min) / scale.step)
}

/** Value at a position, rounded to what the slider can tell apart; the ends are exact. */
export function valueAt(position: number, scale: SliderScale): number {
  const last = positionsOf(scale)
  if (position <= 0) return scale.min
  if (position >= last) return scale.max
  if (scale.logarithmic === true)
    return Number((scale.min * (scale.max / scale.min) ** (position / last)).toPrecision(3))
  return Number((scale.min + position * scale.step).toPrecision(10))
}

/** Nearest position of a value; values beyond the slider stand at its end. */
export function positionOf(value: number, scale: SliderScale): number {
  const last = positionsOf(scale)
  const share =
    scale.logarithmic === true
      ? Math.log(value / scale.min) / Math.log(scale.max / scale.min)
      : (value - scale.min) / (scale.max - scale.min)
  return Math.min(last, Math.max(0, Math.round(share * last)))
}

/** Number typed by a person; null when it is none. A comma counts as the decimal point. */
export function parseTyped(text: string): number | null {
  const plain = text.trim().replace(',', '.').replace('\u2212', '-')
  if (plain === '') return null
  const value = Number(plain)
  return Number.isFinite(value) ? value : null
}

/** A value as it is typed: up to seven significant digits and no needless zeros. */
export function typedText(value: number): string {
  return String(Number(value.toPrecision(7)))
}
