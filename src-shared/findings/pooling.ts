/** Standard deviations of the repeats, pooled over the transitions of a sweep where a test allows it (JCGM 100 4.2.4). */
import { bartlettProbability, cochranOutliers, pooledVariance, type Variance } from '#shared/signal/homogeneity.ts'
import { meanSd } from '#shared/signal/statistics.ts'

/** The repeats of one transition. */
export interface Repeats {
  readonly values: readonly number[]
  /** Root mean square of the captures' own standard uncertainties; null when they state none. */
  readonly u: number | null
}

/** What the standard deviations of the transitions are alike in. */
export type PooledAs = 'size' | 'share of the value' | 'share of the stated uncertainty'

export interface Spread {
  /** Standard deviation of a single capture that the uncertainty rests on, in the unit of the values. */
  readonly s: number
  readonly dof: number
  /** Null where it is the transition's own. */
  readonly pooledAs: PooledAs | null
}

/** Level of both tests. */
const ALPHA = 0.05

interface Candidate {
  readonly as: PooledAs
  /** Size of each transition by which its standard deviation is divided; null where it has none. */
  readonly scales: readonly (number | null)[]
}

/**
 * Spread of each transition's captures. The standard deviations are compared as they are, as shares of the values, and
 * as shares of the uncertainties the captures state; transitions that stand out by Cochran's test keep their own, and
 * of the three ways the one whose rest Bartlett's test finds most alike is taken, if it finds it alike at all. A
 * transition with a single capture takes the pooled spread too. Null where there is neither a pool nor an own spread.
 */
export function spreads(cells: readonly Repeats[]): (Spread | null)[] {
  const own = cells.map(({ values }) => meanSd(values))
  const candidates: Candidate[] = [
    { as: 'size', scales: cells.map(() => 1) },
    {
      as: 'share of the value',
      scales: own.map(({ mean }) => (mean === null || mean === 0 ? null : Math.abs(mean))),
    },
    { as: 'share of the stated uncertainty', scales: cells.map(({ u }) => (u === null || u === 0 ? null : u)) },
  ]
  let best: { pool: Variance; candidate: Candidate; out: ReadonlySet<number> } | null = null
  let likeliest = ALPHA
  for (const candidate of candidates) {
    const found = poolOf(own, candidate)
    if (found === null || found.probability <= likeliest) continue
    likeliest = found.probability
    best = { ...found, candidate }
  }
  return own.map(({ n, s }, i): Spread | null => {
    const scale = best?.candidate.scales[i] ?? null
    if (best !== null && scale !== null && n > 0 && !best.out.has(i))
      return { s: Math.sqrt(best.pool.s2) * scale, dof: best.pool.dof, pooledAs: best.candidate.as }
    return s === null ? null : { s, dof: n - 1, pooledAs: null }
  })
}

/** Fewest transitions with repeats that make a pool. */
const FEWEST = 3

function poolOf(
  own: readonly { readonly n: number; readonly s: number | null }[],
  { scales }: Candidate,
): { pool: Variance; out: ReadonlySet<number>; probability: number } | null {
  const variances: Variance[] = []
  const places: number[] = []
  for (let i = 0; i < own.length; i++) {
    const { n, s } = own[i] as (typeof own)[number]
    const scale = scales[i] ?? null
    if (s === null || scale === null) continue
    variances.push({ s2: (s / scale) ** 2, dof: n - 1 })
    places.push(i)
  }
  const outliers = cochranOutliers(variances, ALPHA)
  const rest = variances.filter((_, k) => !outliers.has(k))
  const pool = pooledVariance(rest)
  // What stands out in many transitions is no exception any more.
  if (pool === null || rest.length < FEWEST || outliers.size > rest.length / 4) return null
  return {
    pool,
    out: new Set([...outliers].map((k) => places[k] as number)),
    probability: bartlettProbability(rest),
  }
}
