/** A standard uncertainty with its degrees of freedom, > 0; Infinity for one that is known well. */
export interface Part {
  readonly u: number
  readonly dof: number
}

/**
 * Independent standard uncertainties together: root of the sum of squares, with the effective degrees of freedom of
 * Welch and Satterthwaite, u⁴ ÷ Σ uᵢ⁴/νᵢ (JCGM 100 G.4.1), not rounded. Infinity of none.
 */
export function combineParts(parts: readonly Part[]): Part {
  let u2 = 0
  let denominator = 0
  for (const { u, dof } of parts) {
    u2 += u * u
    denominator += (u * u) ** 2 / dof
  }
  return { u: Math.sqrt(u2), dof: denominator === 0 ? Infinity : u2 ** 2 / denominator }
}
