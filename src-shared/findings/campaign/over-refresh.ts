import { combined, type Estimate } from './estimate.ts'

/** How values at measured refresh rates are weighed into one: each rate alike, or by the part of the range it stands for. */
export type Weighting = 'equal' | 'trapezoid'

/**
 * Weights (sum 1) of values at `refreshHz` (Hz, ascending, distinct). `equal` answers "of the rates measured";
 * `trapezoid` integrates straight lines between them over refresh, "over the range". RangeError when not ascending.
 */
export function refreshWeights(refreshHz: readonly number[], weighting: Weighting): number[] {
  const n = refreshHz.length
  for (let i = 1; i < n; i++) {
    if (!((refreshHz[i] as number) > (refreshHz[i - 1] as number))) throw new RangeError('refresh rates must ascend')
  }
  if (weighting === 'equal' || n < 2) return refreshHz.map(() => 1 / n)
  const first = refreshHz[0] as number
  const last = refreshHz[n - 1] as number
  return refreshHz.map((at, i) => {
    const before = refreshHz[i - 1] ?? at
    const after = refreshHz[i + 1] ?? at
    return (after - before) / (2 * (last - first))
  })
}

/** Mean of values at measured refresh rates, with the uncertainty of its weights; null without any value. */
export function meanOverRefresh(
  points: readonly { readonly refreshHz: number; readonly estimate: Estimate }[],
  weighting: Weighting,
): Estimate | null {
  if (points.length === 0) return null
  const sorted = [...points].sort((a, b) => a.refreshHz - b.refreshHz)
  const weights = refreshWeights(
    sorted.map(({ refreshHz }) => refreshHz),
    weighting,
  )
  const estimates = sorted.map(({ estimate }) => estimate)
  const sum = (pick: (estimate: Estimate) => number): number =>
    estimates.reduce((total, estimate, i) => total + (weights[i] as number) * pick(estimate), 0)
  return { value: sum(({ value }) => value), ...combined(estimates, weights), shared: sum(({ shared }) => shared) }
}
