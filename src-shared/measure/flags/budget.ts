/**
 * One budget of false alarms for a record, and every constant of the detectors that is not derived from it.
 *
 * A sound record is flagged with a chance of at most `ALPHA`. Every detector takes a stated share of that (Bonferroni:
 * right for any dependence between them), divides it by the places it searches, and gets its limit from the law its
 * statistic follows where nothing is wrong.
 */

/** Chance that a sound record is flagged: ten of a thousand by design. */
export const ALPHA = 0.01

/** Shares of the budget; they add up to 1. */
export const SHARES = {
  /** A line in one of three spectra of the plateaus (backlight, hum beside it): F(2, 20) of eleven tapers. */
  line: 0.2,
  /** A line at a mains frequency: F(2, 2m) against m frequencies beside it. */
  hum: 0.1,
  /** Change through a plateau, through the record: normal, by the noise's correlation. */
  drift: 0.2,
  /** Level the end of the dwell leads to: Student's t or F of the fit. */
  tail: 0.15,
  /** Levels against the ladder: normal. */
  ladder: 0.1,
  /** Speeds within the step, crossings of its middle: the largest of as many normal variables. */
  pause: 0.1,
  crossings: 0.05,
  /** Samples held, repeated, cut out: chance of equal samples, the largest of as many normal variables. */
  lost: 0.1,
} as const
export type Share = keyof typeof SHARES

/** Chance of a false alarm that a detector may have in one record, shared over `tests` it makes. */
export const chanceOf = (share: Share, tests = 1): number => (ALPHA * SHARES[share]) / tests
