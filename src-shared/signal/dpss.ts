/**
 * Discrete prolate spheroidal sequences: of all sequences of a length those with most of their energy in a band.
 * Source: Slepian, Bell Syst. Tech. J. 57 (1978) 1371: they are the eigenvectors of a symmetric tridiagonal matrix,
 * diagonal ((n − 1 − 2t)/2)² cos 2πW, beside it t(n − t)/2 (from memory; compared with scipy in the tests).
 */

/** Tapers of unit energy, best concentrated first, and their sums (0 for odd ones). */
export interface Tapers {
  readonly length: number
  readonly tapers: readonly Float64Array[]
  readonly sums: Float64Array
}

const cache = new Map<number, Tapers>()

/**
 * The first `count` sequences of `length` values (at least 8) for half-bandwidth `nw` ÷ length cycles per sample. Kept
 * for later calls.
 */
export function dpss(length: number, nw: number, count: number): Tapers {
  // Half-bandwidths are multiples of a half, and both are under 64.
  const key = (length * 64 + count) * 128 + 2 * nw
  let found = cache.get(key)
  if (!found) {
    found = compute(length, nw, count)
    if (cache.size >= 64) cache.clear()
    cache.set(key, found)
  }
  return found
}

function compute(n: number, nw: number, count: number): Tapers {
  const diagonal = Float64Array.from(
    { length: n },
    (_, t) => ((n - 1 - 2 * t) / 2) ** 2 * Math.cos((2 * Math.PI * nw) / n),
  )
  const beside = Float64Array.from({ length: n }, (_, t) => (t * (n - t)) / 2)
  const tapers = Array.from({ length: count }, (_, k) =>
    eigenvector(diagonal, beside, eigenvalue(diagonal, beside, k), k),
  )
  return {
    length: n,
    tapers,
    sums: Float64Array.from(tapers, (taper, k) => (k % 2 === 1 ? 0 : taper.reduce((a, b) => a + b, 0))),
  }
}

/** The k-th largest eigenvalue (0-based) by bisection with Sturm's count. */
function eigenvalue(diagonal: Float64Array, beside: Float64Array, k: number): number {
  const n = diagonal.length
  let low = Infinity
  let high = -Infinity
  for (let t = 0; t < n; t++) {
    const radius = beside[t]! + (t + 1 < n ? beside[t + 1]! : 0)
    low = Math.min(low, diagonal[t]! - radius)
    high = Math.max(high, diagonal[t]! + radius)
  }
  for (let round = 0; round < 100; round++) {
    const x = (low + high) / 2
    if (x <= low || x >= high) break
    // Eigenvalues above x: positive pivots of T − x.
    let above = 0
    let pivot = 1
    for (let t = 0; t < n; t++) {
      pivot = diagonal[t]! - x - (t > 0 ? beside[t]! ** 2 / pivot : 0)
      if (pivot === 0) pivot = 1e-300
      if (pivot > 0) above++
    }
    if (above > k) low = x
    else high = x
  }
  return (low + high) / 2
}

/** Eigenvector of unit length by inverse iteration (elimination with row exchange). */
function eigenvector(diagonal: Float64Array, beside: Float64Array, value: number, k: number): Float64Array {
  const n = diagonal.length
  // Even sequences are symmetric, odd ones antisymmetric; such a start has no part in the neighbours.
  let x: Float64Array = Float64Array.from({ length: n }, (_, t) => Math.cos((Math.PI * k * (t + 0.5)) / n))
  for (let round = 0; round < 4; round++) {
    x = solved(diagonal, beside, value, x)
    const size = Math.sqrt(x.reduce((sum, y) => sum + y * y, 0))
    for (let t = 0; t < n; t++) x[t]! /= size
  }
  return x
}

/** (T − value)⁻¹ y. */
function solved(diagonal: Float64Array, beside: Float64Array, value: number, y: Float64Array): Float64Array {
  const n = diagonal.length
  const a = Float64Array.from(diagonal, (d) => d - value)
  const b = Float64Array.from({ length: n }, (_, t) => (t + 1 < n ? beside[t + 1]! : 0))
  const c = new Float64Array(n)
  const x = Float64Array.from(y)
  for (let t = 0; t + 1 < n; t++) {
    let below = beside[t + 1]!
    if (Math.abs(below) > Math.abs(a[t]!)) {
      // Rows t and t + 1 change places.
      const [pivot, right, rightmost] = [below, a[t + 1]!, t + 2 < n ? beside[t + 2]! : 0]
      below = a[t]!
      a[t + 1] = b[t]!
      a[t] = pivot
      b[t] = right
      c[t] = rightmost
      const factor = below / pivot
      const swap = x[t]!
      x[t] = x[t + 1]!
      x[t + 1] = swap - factor * x[t]!
      a[t + 1] = a[t + 1]! - factor * right
      b[t + 1] = -factor * rightmost
    } else {
      const factor = below / a[t]!
      a[t + 1] = a[t + 1]! - factor * b[t]!
      x[t + 1] = x[t + 1]! - factor * x[t]!
    }
  }
  for (let t = n - 1; t >= 0; t--) {
    let sum = x[t]!
    if (t + 1 < n) sum -= b[t]! * x[t + 1]!
    if (t + 2 < n) sum -= c[t]! * x[t + 2]!
    x[t] = sum / (a[t] === 0 ? 1e-12 : a[t]!)
  }
  return x
}
