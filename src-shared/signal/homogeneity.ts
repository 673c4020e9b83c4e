/** Are several sample variances of the same quantity? Tests that hold their level at two to five repeats. */
import { chiSquareTail } from './chi-square.ts'
import { fUpper } from './f-distribution.ts'

export interface Variance {
  /** Sample variance, ≥ 0. */
  readonly s2: number
  /** Its degrees of freedom, ≥ 1. */
  readonly dof: number
}

/** Pooled variance Σ ν·s²/Σ ν (JCGM 100 4.2.4) with its degrees of freedom; null of none. */
export function pooledVariance(variances: readonly Variance[]): Variance | null {
  const dof = variances.reduce((sum, one) => sum + one.dof, 0)
  return dof === 0 ? null : { s2: variances.reduce((sum, one) => sum + one.dof * one.s2, 0) / dof, dof }
}

/**
 * Largest share ν·s²/Σ ν·s² that one of k variances may have when all are equal, at level `alpha` over the k. With
 * equal degrees of freedom this is Cochran's C (1941); with unequal ones its extension ('t Lam 2010, from memory).
 */
export function cochranCritical(dof: number, totalDof: number, count: number, alpha: number): number {
  // Sweeps have the same few sizes again and again, and a root of the F distribution takes longer than all the rest.
  const key = `${dof} ${totalDof} ${count} ${alpha}`
  let critical = criticals.get(key)
  if (critical === undefined) {
    critical = 1 / (1 + (totalDof / dof - 1) / fUpper(alpha / count, dof, totalDof - dof))
    if (criticals.size > 10_000) criticals.clear()
    criticals.set(key, critical)
  }
  return critical
}

const criticals = new Map<string, number>()

/**
 * Cochran's test step by step: the variance that stands out most is taken out as long as one does. Answers with the
 * places that were taken out. Its level holds at n = 2 to 5, where tests of the absolute deviations (Levene, Brown and
 * Forsythe) have 0 or 100 %.
 */
export function cochranOutliers(variances: readonly Variance[], alpha = 0.05): Set<number> {
  const out = new Set<number>()
  for (;;) {
    const left = variances.flatMap((one, place) => (out.has(place) ? [] : [{ ...one, place }]))
    const total = left.reduce((sum, one) => sum + one.dof * one.s2, 0)
    const totalDof = left.reduce((sum, one) => sum + one.dof, 0)
    if (left.length < 2 || total === 0) return out
    let worst = -1
    let most = 1
    let criticalOf = { dof: 0, critical: 1 }
    for (const { s2, dof, place } of left) {
      // Most have as many repeats as the one before them.
      if (dof !== criticalOf.dof) criticalOf = { dof, critical: cochranCritical(dof, totalDof, left.length, alpha) }
      const share = (dof * s2) / total / criticalOf.critical
      if (share > most) {
        most = share
        worst = place
      }
    }
    if (worst < 0) return out
    out.add(worst)
  }
}

/**
 * Bartlett's test (1937): probability of variances as unequal as these when all are equal. 1 with fewer than two; 0
 * when some but not all are zero. Small samples hold the level (2.6, 4.1 and 5.4 % at n = 2, 3 and 4 for a nominal
 * 5 %, 20 groups).
 */
export function bartlettProbability(variances: readonly Variance[]): number {
  const pooled = pooledVariance(variances)
  const k = variances.length
  if (pooled === null || k < 2 || pooled.s2 === 0) return 1
  if (variances.some(({ s2 }) => s2 === 0)) return 0
  let sum = pooled.dof * Math.log(pooled.s2)
  let inverse = 0
  for (const { s2, dof } of variances) {
    sum -= dof * Math.log(s2)
    inverse += 1 / dof
  }
  const correction = 1 + (inverse - 1 / pooled.dof) / (3 * (k - 1))
  return chiSquareTail(Math.max(0, sum / correction), k - 1)
}
