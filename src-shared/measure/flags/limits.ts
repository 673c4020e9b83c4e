/** Limits the flags use. */
export const LIMITS = {
  stepOverNoise: 20,
  stepOverLsb: 100,
  /** Drift through one window a level is read from, and even drift through the whole record, % of the step. */
  driftPct: 2,
  recordDriftPct: 4,
  tailPct: 1,
  ladderPct: 3,
  durationSamples: 3,
  durationOverDetector: 2,
  biasPct: 1,
  humPct: 0.5,
} as const
