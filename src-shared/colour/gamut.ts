/** Gamut of three primaries: areas and their true overlap in 1931 x, y and 1976 u′, v′, and volume in L*a*b*. */
import polygonClipping, { type MultiPolygon, type Ring } from 'polygon-clipping'
import { xyOf, uvPrimeOf, type Pair, type Xyz } from './chromaticity.ts'
import { labOf, type Lab3 } from './difference.ts'
import { itpOf } from './ictcp.ts'

export type Diagram = 'xy' | 'uv'
export type Triangle = readonly [Pair, Pair, Pair]
export type Primaries = readonly [red: Xyz, green: Xyz, blue: Xyz]

/** Corners in a diagram; null when a primary has no light. */
export function triangleIn(primaries: Primaries, diagram: Diagram): Triangle | null {
  const [r, g, b] = primaries.map((xyz) => {
    const xy = xyOf(xyz)
    return xy === null ? null : diagram === 'xy' ? xy : uvPrimeOf(xy)
  })
  return r == null || g == null || b == null ? null : [r, g, b]
}

/** Area of a ring by the shoelace formula; the sign tells its direction. */
function ringArea(ring: readonly Pair[]): number {
  let twice = 0
  for (const [i, [x1, y1]] of ring.entries()) {
    const [x2, y2] = ring[(i + 1) % ring.length] as Pair
    twice += x1 * y2 - x2 * y1
  }
  return twice / 2
}

/** Area of polygons with their holes taken off. */
const areaOf = (polygons: MultiPolygon): number =>
  polygons.reduce(
    (sum, rings) => sum + rings.reduce((area, ring, i) => area + (i === 0 ? 1 : -1) * Math.abs(ringArea(ring)), 0),
    0,
  )

const asRing = (triangle: Triangle): Ring => triangle.map(([x, y]) => [x, y])

export interface Coverage {
  /** Share of the target's area that the gamut covers, 0–1: the area of the overlap. */
  readonly covered: number
  /** Area over the target's area; says nothing about where it lies. */
  readonly areaRatio: number
}

export function coverage(gamut: Triangle, target: Triangle): Coverage {
  const whole = Math.abs(ringArea(target))
  return {
    covered: areaOf(polygonClipping.intersection([asRing(gamut)], [asRing(target)])) / whole,
    areaRatio: Math.abs(ringArea(gamut)) / whole,
  }
}

type Matrix = readonly [Xyz, Xyz, Xyz]

/** R, G, B each of light that makes an XYZ; null where the primaries lie on a line. */
function inverse([r, g, b]: Primaries): Matrix | null {
  const cross = (a: Xyz, c: Xyz): Xyz => [
    a[1] * c[2] - a[2] * c[1],
    a[2] * c[0] - a[0] * c[2],
    a[0] * c[1] - a[1] * c[0],
  ]
  const [gb, br, rg] = [cross(g, b), cross(b, r), cross(r, g)]
  const det = dot(r, gb)
  if (!(Math.abs(det) > 0)) return null
  const over = ([x, y, z]: Xyz): Xyz => [x / det, y / det, z / det]
  return [over(gb), over(br), over(rg)]
}

const dot = (a: Xyz, b: Xyz): number => a[0] * b[0] + a[1] * b[1] + a[2] * b[2]

/** Shares of the primaries that an XYZ is made of, by the additive model; null where they lie on a line. */
export function sharesOf(primaries: Primaries, xyz: Xyz): Xyz | null {
  const solved = inverse(primaries)
  return solved === null ? null : [dot(solved[0], xyz), dot(solved[1], xyz), dot(solved[2], xyz)]
}

const mixed = ([r, g, b]: Primaries, [i, j, k]: readonly [number, number, number]): Xyz => [
  i * r[0] + j * g[0] + k * b[0],
  i * r[1] + j * g[1] + k * b[1],
  i * r[2] + j * g[2] + k * b[2],
]

/**
 * Volume of the solid of all mixtures in some space: its surface from n × n quads a face of the RGB cube, by the
 * divergence theorem. Additive model, black left out. Steps are even in light to the power 1/`bend`.
 */
function volumeOf(primaries: Primaries, at: (xyz: Xyz) => Lab3, n: number, bend: number): number {
  const faces: readonly ((s: number, t: number) => [number, number, number])[] = [
    (s, t) => [0, t, s],
    (s, t) => [1, s, t],
    (s, t) => [s, 0, t],
    (s, t) => [t, 1, s],
    (s, t) => [t, s, 0],
    (s, t) => [s, t, 1],
  ]
  let six = 0
  for (const face of faces) {
    const points: Lab3[] = []
    // Even in code rather than in light: the surface bends most near black.
    const step = (i: number): number => (i / n) ** bend
    for (let i = 0; i <= n; i++) for (let j = 0; j <= n; j++) points.push(at(mixed(primaries, face(step(i), step(j)))))
    const corner = (i: number, j: number): Lab3 => points[i * (n + 1) + j] as Lab3
    for (let i = 0; i < n; i++)
      for (let j = 0; j < n; j++) {
        six += triple(corner(i, j), corner(i + 1, j), corner(i + 1, j + 1))
        six += triple(corner(i, j), corner(i + 1, j + 1), corner(i, j + 1))
      }
  }
  return Math.abs(six) / 6
}

/** In L*a*b* against the white the primaries add up to. */
export function labVolume(primaries: Primaries, n = 64): number {
  const white = mixed(primaries, [1, 1, 1])
  return volumeOf(primaries, (xyz) => labOf(xyz, white), n, 2.2)
}

/**
 * In I, T, P (BT.2124) times 720, so that a step of 1 is one of ΔE ITP; at the luminance the primaries have, cd/m².
 * PQ bends more near black than a power of 2.2.
 */
export const itpVolume = (primaries: Primaries, n = 32): number => 720 ** 3 * volumeOf(primaries, itpOf, n, 5)

const triple = (a: Lab3, b: Lab3, c: Lab3): number =>
  a[0] * (b[1] * c[2] - b[2] * c[1]) + a[1] * (b[2] * c[0] - b[0] * c[2]) + a[2] * (b[0] * c[1] - b[1] * c[0])

export interface VolumeCoverage {
  /** Share of the target's volume in L*a*b* that the gamut covers. */
  readonly covered: number
  /** Standard uncertainty by the number of points. */
  readonly u: number
}

/**
 * Overlap of the two solids, each against its own white: points spread evenly through L*a*b* (Halton's sequence,
 * bases 2, 3, 5), counted where they lie in the target's solid and where in both.
 */
export function volumeCoverage(gamut: Primaries, target: Primaries, points = 60_000): VolumeCoverage | null {
  const [ours, theirs] = [inverse(gamut), inverse(target)]
  if (ours === null || theirs === null) return null
  const [ourWhite, theirWhite] = [mixed(gamut, [1, 1, 1]), mixed(target, [1, 1, 1])]
  const within = (matrix: Matrix, xyz: Xyz): boolean =>
    matrix.every((row) => {
      const share = dot(row, xyz)
      return share >= 0 && share <= 1
    })
  let inside = 0
  let both = 0
  for (let i = 1; i <= points; i++) {
    const lab: Lab3 = [100 * halton(i, 2), -160 + 300 * halton(i, 3), -140 + 290 * halton(i, 5)]
    if (!within(theirs, xyzOfLab(lab, theirWhite))) continue
    inside++
    if (within(ours, xyzOfLab(lab, ourWhite))) both++
  }
  if (inside === 0) return null
  const covered = both / inside
  return { covered, u: Math.sqrt((covered * (1 - covered)) / inside) }
}

function halton(index: number, base: number): number {
  let [value, share] = [0, 1 / base]
  for (let rest = index; rest > 0; rest = Math.floor(rest / base)) {
    value += share * (rest % base)
    share /= base
  }
  return value
}

function xyzOfLab([lStar, a, b]: Lab3, white: Xyz): Xyz {
  const fy = (lStar + 16) / 116
  const back = (f: number): number => (f ** 3 > 216 / 24389 ? f ** 3 : (116 * f - 16) / (24389 / 27))
  return [white[0] * back(fy + a / 500), white[1] * back(fy), white[2] * back(fy - b / 200)]
}
