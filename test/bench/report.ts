/** One figure of the benchmark: a ratio or time measured in this run, against what it must reach. */
export interface Figure {
  readonly what: string
  readonly value: number
  readonly unit: string
  /** `at least`, `at most` or `under` this value. */
  readonly relation: 'at least' | 'at most' | 'under'
  readonly bound: number
  /** How it was measured, with the raw numbers. */
  readonly detail: string
}

export function passes(figure: Figure): boolean {
  if (figure.relation === 'at least') return figure.value >= figure.bound
  return figure.relation === 'at most' ? figure.value <= figure.bound : figure.value < figure.bound
}

export function medianOf(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b)
  const middle = sorted.length >> 1
  return sorted.length % 2 === 1
    ? (sorted[middle] as number)
    : ((sorted[middle - 1] as number) + (sorted[middle] as number)) / 2
}

export function percentile(values: readonly number[], share: number): number {
  const sorted = [...values].sort((a, b) => a - b)
  return sorted[Math.min(sorted.length - 1, Math.ceil(share * sorted.length) - 1)] as number
}

/** Milliseconds of each of `runs` calls after a warm-up. */
export function timeRuns(work: () => void, runs: number, warmUp: number): number[] {
  for (let i = 0; i < warmUp; i++) work()
  return Array.from({ length: runs }, () => {
    const start = performance.now()
    work()
    return performance.now() - start
  })
}
