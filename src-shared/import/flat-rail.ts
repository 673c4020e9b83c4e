/** An input that ran into its limit, seen in the samples alone. */
export interface FlatRail {
  readonly volts: number
  /** Longest run of samples at it. */
  readonly samples: number
}

/** Chance that the noise of a whole sound record makes such a run. */
const FALSE_ALARM = 1e-3
/** Share of the other samples at which the signal turns back, from which on it is noise: white noise turns at two of three. */
const TURNS = 0.1
/** Fewest samples of a run that is told from a coarse converter's own equal samples. */
const FEWEST = 4

/** Longest run of values equal to `extreme`, and the samples in all runs of two and more of it. */
function runsAt(volts: Float64Array, extreme: number): { longest: number; repeated: number } {
  let longest = 0
  let repeated = 0
  for (let i = 0, run = 0; i < volts.length; i++) {
    run = volts[i] === extreme ? run + 1 : 0
    if (run > 1) repeated++
    if (run > longest) longest = run
  }
  return { longest, repeated }
}

/**
 * The highest or lowest value of a recording, where it is held so long that the noise seen elsewhere would not do it:
 * with a share p of equal neighbours elsewhere, a run of L comes about in N samples with a chance of at most N·p^(L−1).
 * Null where no run is that long, and where nothing shows noise: a record without any is flat wherever the light is.
 */
export function flatRail(volts: Float64Array, minV: number, maxV: number): FlatRail | null {
  if (minV === maxV) return null
  const ends = [maxV, minV].map((end) => ({ volts: end, ...runsAt(volts, end) }))
  let equal = 0
  let turns = 0
  for (let i = 1; i < volts.length; i++) {
    const before = (volts[i] as number) - (volts[i - 1] as number)
    if (before === 0) equal++
    else if (i + 1 < volts.length && before * ((volts[i + 1] as number) - (volts[i] as number)) < 0) turns++
  }
  const repeated = ends.reduce((sum, end) => sum + end.repeated, 0)
  const others = volts.length - 1 - repeated
  // Laplace's rule: a share that was never seen is not none.
  const share = (equal - repeated + 1) / (others + 2)
  const worst = ends.reduce((a, b) => (b.longest > a.longest ? b : a))
  if (worst.longest < FEWEST || others < 0.05 * volts.length || turns < TURNS * others) return null
  const chance = volts.length * share ** (worst.longest - 1)
  return chance < FALSE_ALARM ? { volts: worst.volts, samples: worst.longest } : null
}
