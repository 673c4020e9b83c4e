import { type Estimate, u95Of } from './estimate.ts'

/** What a limit says of a value: the limit may lie inside its 95 % interval, and then nothing can be told. */
export type Verdict = 'usable' | 'not-usable' | 'cannot-tell'

export interface Limit {
  readonly bound: 'at-most' | 'at-least'
  readonly value: number
}

/**
 * Verdict by a guard band of U95 on both sides of the limit (JCGM 106:2012, from memory): usable when the whole
 * interval is within, not usable when the whole interval is outside. Without an uncertainty nothing can be told. With
 * k = 2 a value exactly at the limit is called usable in 2.3 of 100 cases.
 */
export function verdictOf(estimate: Estimate, { bound, value }: Limit): Verdict {
  const u95 = u95Of(estimate)
  if (u95 === null) return 'cannot-tell'
  const beyond = bound === 'at-most' ? estimate.value - value : value - estimate.value
  if (beyond + u95 <= 0) return 'usable'
  return beyond - u95 > 0 ? 'not-usable' : 'cannot-tell'
}

/** Several limits together: the worst verdict of them; cannot tell outweighs usable, not usable outweighs both. */
export function worstVerdict(verdicts: readonly Verdict[]): Verdict {
  if (verdicts.includes('not-usable')) return 'not-usable'
  return verdicts.length === 0 || verdicts.includes('cannot-tell') ? 'cannot-tell' : 'usable'
}
