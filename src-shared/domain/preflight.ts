/** What is looked at before a sweep is started, so that nothing found at its end could have been known at its beginning. */
const PREFLIGHT_IDS = ['range', 'dark', 'ripple', 'noise', 'refresh', 'detector', 'drift', 'time'] as const
export type PreflightId = (typeof PREFLIGHT_IDS)[number]

/** `doubtful`: the sweep can run, but read the remedy first. `wrong`: what it would measure means little. */
export type PreflightVerdict = 'right' | 'doubtful' | 'wrong'

export interface PreflightLine {
  readonly id: PreflightId
  readonly verdict: PreflightVerdict
  /** What was found, with units. */
  readonly found: string
  /** What to do; empty when right. */
  readonly remedy: string
}

export interface Preflight {
  readonly lines: readonly PreflightLine[]
  /** Wall-clock time of the readings, ISO 8601 UTC. */
  readonly takenAt: string
}
