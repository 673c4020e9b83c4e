import { studentT95 } from '#shared/signal/distributions.ts'

/**
 * A number with what is known of its doubt. `u` is the standard uncertainty of everything that moves the value by
 * itself; `shared` that of what would move every value of the same comparison alike (detector, ladder, recipe), which
 * cancels in differences. Units are those of the figure.
 */
export interface Estimate {
  readonly value: number
  /** Standard uncertainty of what is this value's own; null when it cannot be stated. */
  readonly u: number | null
  /** Degrees of freedom of `u`, at most `WELL_KNOWN`: a number that JSON can carry. */
  readonly dof: number
  /** Standard uncertainty of what is shared by all values compared, 0 when nothing is. */
  readonly shared: number
}

/** Degrees of freedom of an uncertainty that is known well: Student's distribution is then the normal one. */
export const WELL_KNOWN = 1e9

/** Half width of the 95 % interval of one value, its own and the shared part together; null when `u` is, or has no degrees of freedom. */
export function u95Of({ u, dof, shared }: Estimate): number | null {
  if (u === null) return null
  const total = Math.hypot(u, shared)
  if (total === 0) return 0
  // Welch–Satterthwaite (JCGM 100 G.4.1) with the shared part known well.
  const effective = u === 0 ? Infinity : dof * (total / u) ** 4
  // Nothing is known of a scatter without degrees of freedom.
  return effective > 0 ? studentT95(effective) * total : null
}

/** The same value beside others that share nothing with it: the shared part, known well, is then its own too. */
export function asOwn({ value, u, dof, shared }: Estimate): Estimate {
  if (u === null || shared === 0) return { value, u, dof, shared: 0 }
  const total = Math.hypot(u, shared)
  return { value, u: total, dof: u === 0 ? WELL_KNOWN : Math.min(WELL_KNOWN, dof * (total / u) ** 4), shared: 0 }
}

/** a − b of two values that share `shared`: its own uncertainty is of the values' own parts alone. */
export function difference(a: Estimate, b: Estimate): Estimate {
  const value = a.value - b.value
  if (a.u === null || b.u === null) return { value, u: null, dof: 0, shared: 0 }
  return { value, ...combined([a, b], [1, -1]), shared: 0 }
}

/** Uncertainty and degrees of freedom of Σ w·x of independent values, each with its own part only. */
export function combined(parts: readonly Estimate[], weights: readonly number[]): { u: number | null; dof: number } {
  let u2 = 0
  let denominator = 0
  for (let i = 0; i < parts.length; i++) {
    const { u, dof } = parts[i] as Estimate
    if (u === null) return { u: null, dof: 0 }
    const part = ((weights[i] as number) * u) ** 2
    u2 += part
    denominator += part ** 2 / dof
  }
  return { u: Math.sqrt(u2), dof: denominator === 0 ? WELL_KNOWN : Math.min(WELL_KNOWN, u2 ** 2 / denominator) }
}
