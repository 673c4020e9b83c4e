/** Arithmetic of looking closer, further and sideways. Spans are [low, high] in the axis' unit. */
export type Span = readonly [number, number]

/** Most that a view may reach past the record on either side, as a share of the record. */
const SLACK = 0.05

/** Keeps a span inside the limits with a little slack, and no shorter than `least`. */
export function fit([low, high]: Span, limits: Span, least: number): Span {
  const room = limits[1] - limits[0]
  const outer: Span = [limits[0] - SLACK * room, limits[1] + SLACK * room]
  const length = Math.min(Math.max(high - low, least), outer[1] - outer[0])
  const centre = (low + high) / 2
  const start = Math.min(Math.max(centre - length / 2, outer[0]), outer[1] - length)
  return [start, start + length]
}

/** A factor under 1 looks closer; `about` stays where it is on the screen. */
export function zoomAbout(span: Span, factor: number, about: number, limits: Span, least: number): Span {
  const length = Math.max((span[1] - span[0]) * factor, least)
  const share = (about - span[0]) / (span[1] - span[0])
  const start = about - share * length
  return fit([start, start + length], limits, least)
}

/** Moves by a share of what is in view; positive looks later. */
export function panBy(span: Span, share: number, limits: Span): Span {
  const shift = share * (span[1] - span[0])
  return fit([span[0] + shift, span[1] + shift], limits, span[1] - span[0])
}

/** Span around what is pointed at, wide enough to see it in its surroundings. */
export function around([low, high]: Span, limits: Span, least: number): Span {
  const length = Math.max(high - low, least)
  return fit([low - 0.75 * length, high + 0.75 * length], limits, least)
}
