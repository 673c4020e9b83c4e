/** The contact of an input device as the rig's second input sees it. */

/** A key is down for so long, s. */
const PRESSED_S = 0.06
const CLOSED_V = 3.3
/** Of the time a contact bounces, it is open again between these shares. */
const OPEN: readonly (readonly [number, number])[] = [
  [0.2, 0.45],
  [0.7, 1],
]
/** Events a record may reach back to. */
const REMEMBERED = 8

export interface Contact {
  /** The contact closes at a clock time. */
  close(atS: number): void
  /** 3.3 V while closed, at `startS + i·stepS`. */
  volts(startS: number, stepS: number, count: number): Float64Array
}

export function createContact(bounceS: number): Contact {
  const closed: number[] = []
  const isClosed = (t: number): boolean =>
    closed.some((at) => {
      const since = t - at
      return (
        since >= 0 && since < PRESSED_S && !OPEN.some(([from, to]) => since >= from * bounceS && since < to * bounceS)
      )
    })
  return {
    close(atS) {
      closed.push(atS)
      if (closed.length > REMEMBERED) closed.shift()
    },
    volts: (startS, stepS, count) =>
      // Clock times of samples carry rounding errors far below a sample.
      Float64Array.from({ length: count }, (_, i) => (isClosed(startS + (i + 1e-6) * stepS) ? CLOSED_V : 0)),
  }
}
