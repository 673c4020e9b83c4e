/**
 * What an eye that follows a moving edge perfectly gets of it, computed from the measured response: the response
 * averaged over one frame, laid out at the edge's speed (after Watson, J. SID 18(2), 2010; formula from memory). Holds
 * with backlight pulses in the response, since the ages of the pixels seen within one frame join into one window of
 * length T. Assumes perfect pursuit, no optics of the eye, linear light and a fixed frame time.
 */
export interface MovingEdge {
  /** Time axis from the switch of the picture, s, ascending and equally spaced. */
  readonly timeS: Float64Array
  /** Light averaged over one frame, in the unit of the response. */
  readonly light: Float64Array
}

/** The edge under one setting. */
export interface EdgePicture {
  readonly name: string
  readonly edge: MovingEdge
}

/** The same edge under every setting at one refresh rate. */
export interface EdgeSet {
  readonly refreshHz: number
  /** Levels the edge lies between, codes; and those there are to choose from. */
  readonly from: number
  readonly to: number
  readonly levels: readonly number[]
  /** Light drawn white, in the unit of the edges. */
  readonly peak: number
  readonly pictures: readonly EdgePicture[]
}

/**
 * @param response light at equal steps (any unit, dark subtracted), first sample at `startS` from the switch
 * @param stepS distance of samples, s
 * @param frameS frame time T, s
 * @param points number of points of the answer over [startS + T, end of the response]; at least 2
 * RangeError when the response is not longer than one frame.
 */
export function movingEdge(
  response: Float32Array | Float64Array,
  stepS: number,
  startS: number,
  frameS: number,
  points: number,
): MovingEdge {
  const n = response.length
  const lengthS = (n - 1) * stepS
  if (!(lengthS > frameS) || points < 2) throw new RangeError('the response must be longer than one frame')
  // Trapezium rule, so that the window's ends may lie between samples.
  const integral = new Float64Array(n)
  for (let i = 1; i < n; i++) {
    integral[i] = (integral[i - 1] as number) + 0.5 * stepS * ((response[i - 1] as number) + (response[i] as number))
  }
  const integralAt = (fromStartS: number): number => {
    const x = Math.min(Math.max(fromStartS / stepS, 0), n - 1)
    const i = Math.min(Math.floor(x), n - 2)
    const f = x - i
    const a = response[i] as number
    const b = response[i + 1] as number
    return (integral[i] as number) + stepS * f * (a + 0.5 * f * (b - a))
  }
  const timeS = new Float64Array(points)
  const light = new Float64Array(points)
  for (let k = 0; k < points; k++) {
    const end = frameS + ((lengthS - frameS) * k) / (points - 1)
    timeS[k] = startS + end
    light[k] = (integralAt(end) - integralAt(end - frameS)) / frameS
  }
  return { timeS, light }
}

/** IEC 61966-2-1 code 0–255 (not rounded) of relative linear light; below 0 and above 1 are held at the ends. */
export function srgbCode(linear: number): number {
  const v = Math.min(Math.max(linear, 0), 1)
  return 255 * (v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055)
}
