/** How the spread of delays compares with the even wait that a frame clock gives. */

export interface WaitShape {
  /** Largest distance from a uniform distribution over one frame, its start fitted (Kolmogorov and Smirnov's D). */
  readonly distance: number
  /** Chance of as large a distance where the wait for a frame is all there is. */
  readonly p: number
  /** Events more than one and a half frames after the earliest: whole frames were queued for them. */
  readonly late: number
  /** `narrower`: the events fell into step with the frames. `wider`: jitter, drift or queued frames beside the wait. */
  readonly verdict: 'one-frame' | 'narrower' | 'wider'
}

/** Chance that the wait alone is not taken for it. */
export const SHAPE_ALARM = 0.05
/**
 * Frames after the earliest event above which one counts as queued. The wait alone spreads over one frame, a queued frame
 * adds a whole one: the middle between them, a choice, leaves half a frame to jitter on either side.
 */
const LATE_FRAMES = 1.5

/** @param sorted ascending delays, any unit. @param frame one refresh period in the same unit. */
export function waitShape(
  sorted: readonly number[],
  { mean, s }: { readonly mean: number; readonly s: number },
  frame: number,
): WaitShape {
  const distance = distanceFrom(sorted, mean, frame)
  const p = chanceOf(distance, sorted.length)
  const first = sorted[0] as number
  const late = sorted.filter((value) => value > first + LATE_FRAMES * frame).length
  const verdict = p >= SHAPE_ALARM ? 'one-frame' : s < frame / Math.sqrt(12) ? 'narrower' : 'wider'
  return { distance, p, late, verdict }
}

/** D of ascending values against U(start, start + frame), the start placed so that the means agree. */
function distanceFrom(sorted: ArrayLike<number>, mean: number, frame: number): number {
  const n = sorted.length
  const start = mean - frame / 2
  let most = 0
  for (let i = 0; i < n; i++) {
    const expected = Math.min(1, Math.max(0, ((sorted[i] as number) - start) / frame))
    most = Math.max(most, (i + 1) / n - expected, expected - i / n)
  }
  return most
}

/**
 * Chance of a larger D·(√n + 0.26 + 0.15/√n) under an even law with its start fitted by the mean. The published tables
 * have no start to fit; these come from 400,000 draws of 100 and 150,000 of 1,000 by numpy (`test/reference/wait-shape.py`).
 */
const CHANCES: readonly (readonly [number, number])[] = [
  [0.3407, 0.999],
  [0.3951, 0.99],
  [0.4942, 0.9],
  [0.5685, 0.75],
  [0.6669, 0.5],
  [0.7819, 0.25],
  [0.8978, 0.1],
  [0.9716, 0.05],
  [1.0381, 0.025],
  [1.1176, 0.01],
  [1.1724, 0.005],
  [1.2418, 0.002],
  [1.2885, 0.001],
]

function chanceOf(distance: number, n: number): number {
  const x = distance * (Math.sqrt(n) + 0.26 + 0.15 / Math.sqrt(n))
  const at = CHANCES.findIndex(([value]) => value >= x)
  if (at === 0) return 1
  // Past its last row the table goes on as its last two rows do.
  const [[x0, p0], [x1, p1]] = CHANCES.slice((at < 0 ? CHANCES.length : at + 1) - 2) as [
    readonly [number, number],
    readonly [number, number],
  ]
  return Math.exp(Math.log(p0) + ((x - x0) / (x1 - x0)) * (Math.log(p1) - Math.log(p0)))
}
