import { studentTCdf } from '#shared/signal/distributions.ts'
import { difference, type Estimate } from './estimate.ts'

/** Two-sided p-value of "a and b are equal", Welch's t on what is each value's own; null without uncertainties. */
export function equalityP(a: Estimate, b: Estimate): number | null {
  const d = difference(a, b)
  if (d.u === null) return null
  if (d.u === 0) return d.value === 0 ? 1 : 0
  const t = Math.abs(d.value) / d.u
  return Math.min(1, 2 * (1 - studentTCdf(t, Math.min(d.dof, 1e9))))
}

/** Holm's step-down adjusted p-values (Scandinavian J. Statistics 6 (1979) 65, from memory), in the order given. */
export function holm(p: readonly number[]): number[] {
  const order = p.map((_, i) => i).sort((a, b) => (p[a] as number) - (p[b] as number))
  const adjusted = Array.from<number>({ length: p.length })
  let largest = 0
  order.forEach((index, rank) => {
    largest = Math.max(largest, Math.min(1, (p.length - rank) * (p[index] as number)))
    adjusted[index] = largest
  })
  return adjusted
}

export interface Ranked {
  /** Best and worst rank it may have: 1 + those significantly better, n − those significantly worse. */
  readonly best: number
  readonly worst: number
  /** Letters of the groups whose members do not differ; two that share a letter are not shown to differ. */
  readonly letters: string
}

export interface Ranking {
  readonly ranked: readonly Ranked[]
  /** Whether i and j differ, each pair once, adjusted for all pairs (Holm). */
  readonly differs: (i: number, j: number) => boolean
}

/**
 * Ranks of values of which smaller (`low`) or larger (`high`) is better, at 5 % over all pairs. "Does not differ" is
 * not transitive, so a rank is a range. A value without an uncertainty differs from nothing.
 */
export function rank(estimates: readonly Estimate[], better: 'low' | 'high', alpha = 0.05): Ranking {
  const n = estimates.length
  const pairs: [number, number][] = []
  for (let i = 0; i < n; i++) for (let j = i + 1; j < n; j++) pairs.push([i, j])
  const p = pairs.map(([i, j]) => equalityP(estimates[i] as Estimate, estimates[j] as Estimate) ?? 1)
  const adjusted = holm(p)
  const table = Array.from({ length: n }, () => Array.from<boolean>({ length: n }).fill(false))
  pairs.forEach(([i, j], k) => {
    const significant = (adjusted[k] as number) < alpha
    ;(table[i] as boolean[])[j] = significant
    ;(table[j] as boolean[])[i] = significant
  })
  const differs = (i: number, j: number): boolean => table[i]?.[j] ?? false
  const isBetter = (i: number, j: number): boolean => {
    const gap = (estimates[i] as Estimate).value - (estimates[j] as Estimate).value
    return differs(i, j) && (better === 'low' ? gap < 0 : gap > 0)
  }
  const indices = estimates.map((_, i) => i)
  const letters = groupLetters(estimates, better, differs)
  const ranked = indices.map((i) => ({
    best: 1 + indices.filter((j) => isBetter(j, i)).length,
    worst: n - indices.filter((j) => isBetter(i, j)).length,
    letters: letters[i] as string,
  }))
  return { ranked, differs }
}

/**
 * Compact letters by insert and absorb (Piepho, J. Computational and Graphical Statistics 13 (2004) 456, from memory):
 * start with one group of all, split it at each pair that differs, drop groups that lie within another.
 */
export function groupLetters(
  estimates: readonly Estimate[],
  better: 'low' | 'high',
  differs: (i: number, j: number) => boolean,
): string[] {
  const n = estimates.length
  const sign = better === 'low' ? 1 : -1
  const order = estimates
    .map((_, i) => i)
    .sort((a, b) => sign * ((estimates[a] as Estimate).value - (estimates[b] as Estimate).value))
  let groups: Set<number>[] = [new Set(order)]
  for (let a = 0; a < n; a++) {
    for (let b = a + 1; b < n; b++) {
      const i = order[a] as number
      const j = order[b] as number
      if (!differs(i, j)) continue
      const split = groups.flatMap((group) =>
        group.has(i) && group.has(j) ? [without(group, i), without(group, j)] : [group],
      )
      groups = split.filter(
        (group, k) =>
          !split.some((other, m) => m !== k && isWithin(group, other) && (!isWithin(other, group) || m < k)),
      )
    }
  }
  const position = (group: ReadonlySet<number>): number => Math.min(...[...group].map((i) => order.indexOf(i)))
  const sorted = [...groups].sort((a, b) => position(a) - position(b))
  return estimates.map((_, i) => sorted.map((group, k) => (group.has(i) ? letter(k) : '')).join(''))
}

const without = (group: ReadonlySet<number>, item: number): Set<number> =>
  new Set([...group].filter((member) => member !== item))
const isWithin = (inner: ReadonlySet<number>, outer: ReadonlySet<number>): boolean =>
  [...inner].every((member) => outer.has(member))
const letter = (k: number): string =>
  k < 26 ? String.fromCodePoint(97 + k) : `${letter(Math.floor(k / 26) - 1)}${letter(k % 26)}`
