/** Measured patches against a target: differences, grey scale, gamut. */
import { colourTemperature, type ColourTemperature } from './temperature.ts'
import { uvPrimeOf, xyOf, type Pair, type Xyz } from './chromaticity.ts'
import { ciede2000, deltaEItp, labOf } from './difference.ts'
import {
  coverage,
  itpVolume,
  labVolume,
  sharesOf,
  triangleIn,
  volumeCoverage,
  type Coverage,
  type Diagram,
  type Primaries,
  type Triangle,
  type VolumeCoverage,
} from './gamut.ts'
import { itpDistance } from './ictcp.ts'
import { GAMUT_IDS, gamutPrimaries, targetXyz, type GamutId, type Rgb, type TargetId } from './targets.ts'

/** Colour differences are counted against the target's white, or each against its own (the eye adapted to the display). */
export type WhiteChoice = 'target' | 'display'

export interface MeasuredPatch {
  /** Codes 0–255. */
  readonly rgb: Rgb
  /** cd/m². */
  readonly xyz: Xyz
}

interface JudgedPatch extends MeasuredPatch {
  readonly target: Xyz
  readonly de2000: number
  readonly deItp: number
  /** Null without light. */
  readonly xy: Pair | null
}

interface GreyPoint extends JudgedPatch {
  readonly code: number
  readonly temperature: ColourTemperature | null
  /** R, G, B that the light is made of in the target's primaries, each 100 at the target's white; null without light. */
  readonly balance: readonly [number, number, number] | null
}

interface GamutResult {
  readonly primaries: Primaries
  readonly of: Readonly<
    Record<GamutId, { readonly xy: Coverage; readonly uv: Coverage; readonly volume: VolumeCoverage | null }>
  >
  /** In L*a*b* against the white the primaries add up to. */
  readonly labVolume: number
  /** In I, T, P of BT.2124 at the display's own luminance, steps of ΔE ITP cubed. */
  readonly itpVolume: number
  /** White over the sum of the primaries' luminances, minus 1: far from 0 the display does not add up. */
  readonly additivity: number | null
}

interface PatchSummary {
  readonly mean: number
  readonly max: number
}

export interface ColourResult {
  readonly white: Xyz
  readonly black: Xyz | null
  readonly whiteXy: Pair
  readonly whiteTemperature: ColourTemperature | null
  /** Distance of white from the target's in u′, v′. */
  readonly whiteDuv: number
  readonly patches: readonly JudgedPatch[]
  readonly grey: readonly GreyPoint[]
  readonly de2000: { readonly grey: PatchSummary | null; readonly all: PatchSummary }
  readonly deItp: { readonly grey: PatchSummary | null; readonly all: PatchSummary }
  /** Null unless red, green and blue at 255 were measured. */
  readonly gamut: GamutResult | null
}

const xyzAt = (patches: readonly MeasuredPatch[], [r, g, b]: Rgb): Xyz | null =>
  patches.find(({ rgb }) => rgb[0] === r && rgb[1] === g && rgb[2] === b)?.xyz ?? null

interface Differences {
  readonly white: Xyz
  readonly whiteXy: Pair
  readonly black: Xyz | null
  readonly targetWhite: Xyz
  readonly judged: readonly JudgedPatch[]
}

/** Each patch beside what the target asks for; null without white. */
function differencesOf(
  patches: readonly MeasuredPatch[],
  target: TargetId,
  against: WhiteChoice,
  itp: (a: Xyz, b: Xyz) => number = deltaEItp,
): Differences | null {
  const white = xyzAt(patches, [255, 255, 255])
  const whiteXy = white === null ? null : xyOf(white)
  if (white === null || whiteXy === null) return null
  const black = xyzAt(patches, [0, 0, 0])
  const [whiteL, blackL] = [white[1], black?.[1] ?? 0]
  const targetWhite = targetXyz(target, [1, 1, 1], whiteL, blackL)
  const ownWhite = against === 'display' ? white : targetWhite
  const judged = patches.map(({ rgb, xyz }): JudgedPatch => {
    const asked = targetXyz(target, [rgb[0] / 255, rgb[1] / 255, rgb[2] / 255], whiteL, blackL)
    return {
      rgb,
      xyz,
      target: asked,
      xy: xyOf(xyz),
      de2000: ciede2000(labOf(xyz, ownWhite), labOf(asked, targetWhite)),
      deItp: itp(xyz, asked),
    }
  })
  return { white, whiteXy, black, targetWhite, judged }
}

function summaryOf(list: readonly JudgedPatch[], pick: (patch: JudgedPatch) => number): PatchSummary | null {
  const values = list.map(pick)
  return values.length === 0
    ? null
    : { mean: values.reduce((sum, value) => sum + value, 0) / values.length, max: Math.max(...values) }
}

/** Null unless white (255, 255, 255) was measured, with light. Equal patches are averaged. */
export function judgePatches(
  given: readonly MeasuredPatch[],
  target: TargetId,
  against: WhiteChoice,
): ColourResult | null {
  const patches = averaged(given)
  const found = differencesOf(patches, target, against)
  if (found === null) return null
  const { white, whiteXy, black, targetWhite, judged } = found
  const whiteL = white[1]
  const unit = ([1, 0, 0] as const).map((_, k) =>
    targetXyz(target, [k === 0 ? 1 : 0, k === 1 ? 1 : 0, k === 2 ? 1 : 0], whiteL, 0),
  ) as unknown as Primaries
  const grey = judged
    .filter(({ rgb: [r, g, b] }) => r === g && g === b)
    .sort((a, b) => a.rgb[0] - b.rgb[0])
    .map((patch): GreyPoint => {
      const shares = patch.xyz[1] > 0 ? sharesOf(unit, patch.xyz) : null
      const scale = (100 * whiteL) / patch.xyz[1]
      return {
        ...patch,
        code: patch.rgb[0],
        temperature: patch.xy === null ? null : colourTemperature(patch.xy),
        balance: shares === null ? null : [shares[0] * scale, shares[1] * scale, shares[2] * scale],
      }
    })
  const [u, v] = uvPrimeOf(whiteXy)
  const [tu, tv] = uvPrimeOf(xyOf(targetWhite) ?? whiteXy)
  const summary = (pick: (patch: JudgedPatch) => number) => ({
    grey: summaryOf(grey, pick),
    all: summaryOf(judged, pick) as PatchSummary,
  })
  return {
    white,
    black,
    whiteXy,
    whiteTemperature: colourTemperature(whiteXy),
    whiteDuv: Math.hypot(u - tu, v - tv),
    patches: judged,
    grey,
    de2000: summary(({ de2000 }) => de2000),
    deItp: summary(({ deItp }) => deItp),
    gamut: gamutOf(primariesAt(patches), white, black),
  }
}

const primariesAt = (patches: readonly MeasuredPatch[]): readonly (Xyz | null)[] =>
  (
    [
      [255, 0, 0],
      [0, 255, 0],
      [0, 0, 255],
    ] as const
  ).map((rgb) => xyzAt(patches, rgb))

/**
 * Mean and largest ΔE 2000 and ΔE ITP, and the parts of the gamuts covered in u′v′ in the order of `GAMUT_IDS`, and the
 * volumes in L*a*b* and I, T, P, coarsely: what the uncertainty of the readings is followed through to. NaN where one
 * cannot be made.
 */
export function patchNumbers(given: readonly MeasuredPatch[], target: TargetId, against: WhiteChoice): number[] {
  const patches = averaged(given)
  const judged = differencesOf(patches, target, against, itpDistance)?.judged ?? []
  const [de2000, deItp] = [summaryOf(judged, (one) => one.de2000), summaryOf(judged, (one) => one.deItp)]
  const [r, g, b] = primariesAt(patches)
  const uv = r == null || g == null || b == null ? null : triangleIn([r, g, b], 'uv')
  return [
    ...[de2000, deItp].flatMap((one) => [one?.mean ?? Number.NaN, one?.max ?? Number.NaN]),
    ...GAMUT_IDS.map((id) => (uv === null ? Number.NaN : 100 * coveredIn(uv, id, 'uv').covered)),
    ...(r == null || g == null || b == null
      ? [Number.NaN, Number.NaN]
      : [labVolume, itpVolume].map((volume) => volume(aboveBlack([r, g, b], xyzAt(patches, [0, 0, 0])), COARSE))),
  ]
}

/** Quads along an edge where only the spread of a volume is asked for: the volume itself is then 1 % off. */
const COARSE = 6

/** Black's own light is in every patch and belongs to no primary. */
function aboveBlack(primaries: Primaries, black: Xyz | null): Primaries {
  const above = ([x, y, z]: Xyz): Xyz => (black === null ? [x, y, z] : [x - black[0], y - black[1], z - black[2]])
  const [r, g, b] = primaries
  return [above(r), above(g), above(b)]
}

function coveredIn(triangle: Triangle, id: GamutId, diagram: Diagram): Coverage {
  const [r, g, b] = gamutPrimaries(id)
  return coverage(triangle, triangleIn([r, g, b], diagram) ?? triangle)
}

function gamutOf(found: readonly (Xyz | null)[], white: Xyz, black: Xyz | null): GamutResult | null {
  const [r, g, b] = found
  if (r == null || g == null || b == null) return null
  const primaries = aboveBlack([r, g, b], black)
  const measured: Primaries = [r, g, b]
  const [xy, uv] = [triangleIn(measured, 'xy'), triangleIn(measured, 'uv')]
  if (xy === null || uv === null) return null
  const of = (id: GamutId) => {
    const [tr, tg, tb] = gamutPrimaries(id)
    const target: Primaries = [tr, tg, tb]
    return {
      xy: coveredIn(xy, id, 'xy'),
      uv: coveredIn(uv, id, 'uv'),
      volume: volumeCoverage(primaries, target),
    }
  }
  const sum = primaries[0][1] + primaries[1][1] + primaries[2][1]
  return {
    primaries: measured,
    of: Object.fromEntries(GAMUT_IDS.map((id) => [id, of(id)])) as GamutResult['of'],
    labVolume: labVolume(primaries),
    itpVolume: itpVolume(primaries),
    additivity: sum > 0 ? (white[1] - (black?.[1] ?? 0)) / sum - 1 : null,
  }
}

function averaged(patches: readonly MeasuredPatch[]): MeasuredPatch[] {
  const known = new Map<string, MeasuredPatch[]>()
  for (const patch of patches) {
    const key = patch.rgb.join(' ')
    known.set(key, [...(known.get(key) ?? []), patch])
  }
  return [...known.values()].map((same) => {
    const mean = (k: 0 | 1 | 2): number => same.reduce((sum, { xyz }) => sum + xyz[k], 0) / same.length
    return { rgb: (same[0] as MeasuredPatch).rgb, xyz: [mean(0), mean(1), mean(2)] }
  })
}
