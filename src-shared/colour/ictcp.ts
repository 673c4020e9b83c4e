/** I, T, P of Recommendation ITU-R BT.2124: BT.2100 ICtCp (PQ) with T = Ct/2, from absolute XYZ. */
import type { Xyz } from './chromaticity.ts'

/** BT.2020 primaries and D65 (BT.2020 table 3 and 4, worked out to XYZ → RGB), then RGB → LMS (BT.2100 table 7). */
const RGB_OF_XYZ = [
  [1.7166511879712674, -0.35567078377639233, -0.25336628137365974],
  [-0.6666843518324892, 1.6164812366349395, 0.01576854581391113],
  [0.017639857445310783, -0.042770613257808524, 0.9421031212354738],
] as const
const LMS_OF_RGB = [
  [1688 / 4096, 2146 / 4096, 262 / 4096],
  [683 / 4096, 2951 / 4096, 462 / 4096],
  [99 / 4096, 309 / 4096, 3688 / 4096],
] as const
const ITP_OF_PQ = [
  [0.5, 0.5, 0],
  [6610 / 4096, -13613 / 4096, 7003 / 4096],
  [17933 / 4096, -17390 / 4096, -543 / 4096],
] as const

/** PQ, SMPTE ST 2084 / BT.2100 table 4: light in cd/m² to 0–1. */
function pq(light: number): number {
  const y = Math.max(0, light / 10_000) ** (2610 / 16384)
  return ((3424 / 4096 + (2413 / 128) * y) / (1 + (2392 / 128) * y)) ** (2523 / 32)
}

const times = (m: readonly (readonly [number, number, number])[], v: Xyz): Xyz => {
  const row = (i: number): number => {
    const [a, b, c] = m[i] as readonly [number, number, number]
    return a * v[0] + b * v[1] + c * v[2]
  }
  return [row(0), row(1), row(2)]
}

/** @param xyz cd/m². Negative cone responses count as none. A distance of 1/720 is one of ΔE ITP. */
export function itpOf(xyz: Xyz): Xyz {
  const [l, m, s] = times(LMS_OF_RGB, times(RGB_OF_XYZ, xyz))
  const [i, ct, cp] = times(ITP_OF_PQ, [pq(l), pq(m), pq(s)])
  return [i, ct / 2, cp]
}

/** ΔE ITP (BT.2124) of two absolute XYZ in cd/m²: as the library's, for where it is asked for thousands of times. */
export function itpDistance(a: Xyz, b: Xyz): number {
  const [p, q] = [itpOf(a), itpOf(b)]
  return 720 * Math.hypot(p[0] - q[0], p[1] - q[1], p[2] - q[2])
}
