/** Time left from the durations of the newest pieces of work: median × pieces left. */
export interface TimeLeft {
  add(seconds: number): void
  /** null until one piece is done. */
  left(pieces: number): number | null
}

const REMEMBERED = 25

export function createTimeLeft(): TimeLeft {
  const durations: number[] = []
  return {
    add(seconds) {
      durations.push(seconds)
      if (durations.length > REMEMBERED) durations.shift()
    },
    left(pieces) {
      if (durations.length === 0) return null
      const ordered = [...durations].sort((a, b) => a - b)
      return (ordered[ordered.length >> 1] as number) * pieces
    },
  }
}

/** Time left at the rate so far, s: for work of many small pieces. Null before the first, or where the total is not known (0). */
export function leftAtRate(elapsedS: number, done: number, total: number): number | null {
  return done === 0 || total === 0 ? null : (elapsedS / done) * Math.max(0, total - done)
}
