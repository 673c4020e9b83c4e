/**
 * Complementary error function, relative error below 1.2e-7 everywhere.
 * Source: Chebyshev fit of Press et al., Numerical Recipes (from memory; checked against scipy values in the tests).
 */
export function erfc(x: number): number {
  const z = Math.abs(x)
  const t = 1 / (1 + 0.5 * z)
  const poly =
    -1.26551223 +
    t *
      (1.00002368 +
        t *
          (0.37409196 +
            t *
              (0.09678418 +
                t *
                  (-0.18628806 +
                    t * (0.27886807 + t * (-1.13520398 + t * (1.48851587 + t * (-0.82215223 + t * 0.17087277))))))))
  const value = t * Math.exp(-z * z + poly)
  return x >= 0 ? value : 2 - value
}

/** Cumulative distribution of the standard normal variable. */
export function normalCdf(x: number): number {
  return 0.5 * erfc(-x * Math.SQRT1_2)
}

/** Density of the standard normal variable. */
export function normalPdf(x: number): number {
  return 0.3989422804014327 * Math.exp(-0.5 * x * x)
}

/** 2·Φ⁻¹(0.9): 10–90 % width of a Gaussian edge in units of its σ. */
export const GAUSSIAN_10_90 = 2.5631031310892007

/** Reach of the table in σ, its steps per σ, and pairs Φ(z), φ(z) from −reach on. */
export const TABLE_REACH = 6
export const TABLE_DENSITY = 512
export const normalTable = new Float64Array(2 * (2 * TABLE_REACH * TABLE_DENSITY + 2))
for (let i = 0; i < normalTable.length / 2; i++) {
  const z = i / TABLE_DENSITY - TABLE_REACH
  normalTable[2 * i] = normalCdf(z)
  normalTable[2 * i + 1] = normalPdf(z)
}
