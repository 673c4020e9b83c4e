/** White that moved more than this between sweeps is reported; luminance of these sweeps does not compare. A choice. */
const LIMIT = 0.03
/** When black moves as much as white, relative to each, the sensor moved or its gain changed; lamps move both alike too. */
const ALIKE = 0.02

export interface WhiteStep {
  readonly level: number
  readonly meanV: number
}

interface WithLadder {
  readonly id: number
  readonly ladder: { readonly steps: readonly WhiteStep[]; readonly takenAt: string } | null
}

/**
 * A sentence when white of a sweep's ladder differs from that of the first sweep; null when it does not, or when there
 * is nothing to compare. Durations and overshoots are relative to the step and stay comparable.
 */
export function whiteDrift(sweeps: readonly WithLadder[], sweepId: number): string | null {
  // The first that was taken: one taken again comes later than those after it in the plan.
  const first = sweeps
    .flatMap(({ ladder }) => (ladder === null ? [] : [ladder]))
    .reduce<WithLadder['ladder']>((a, b) => (a === null || b.takenAt < a.takenAt ? b : a), null)?.steps
  const own = sweeps.find(({ id }) => id === sweepId)?.ladder?.steps
  if (first === undefined || own === undefined || first === own) return null
  const [whiteBefore, white] = [first.at(-1), own.at(-1)]
  if (whiteBefore === undefined || white === undefined || white.level !== whiteBefore.level) return null
  const change = white.meanV / whiteBefore.meanV - 1
  if (Math.abs(change) < LIMIT) return null
  const middle = own.filter(({ level }) => level > 0 && level < white.level)
  const alike = middle.every((step) => {
    const before = first.find(({ level }) => level === step.level)
    return before === undefined || Math.abs(step.meanV / before.meanV - 1 - change) < ALIKE
  })
  const cause = alike
    ? 'All levels changed together: lamp or sensor.'
    : 'The levels did not change together: a different picture mode or patch.'
  return `White differs by ${(100 * change).toFixed(1)} % from the first sweep. ${cause} Durations and overshoot still compare, luminance does not.`
}
