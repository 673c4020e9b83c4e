/** What a display can be judged against: primaries, white and transfer function of open standards, by colorjs.io. */
import { P3, P3_Linear, REC_2020_Linear, sRGB, sRGB_Linear, to, XYZ_D65, type ColorSpace } from 'colorjs.io/fn'
import type { Xyz } from './chromaticity.ts'

export type Rgb = readonly [r: number, g: number, b: number]

export const TARGETS = {
  srgb: { label: 'sRGB', source: 'IEC 61966-2-1', coded: sRGB, linear: sRGB_Linear },
  'display-p3': {
    label: 'Display P3',
    source: 'SMPTE EG 432-1 primaries, D65, sRGB curve',
    coded: P3,
    linear: P3_Linear,
  },
  bt1886: { label: 'BT.709 with BT.1886', source: 'ITU-R BT.709, BT.1886', coded: null, linear: sRGB_Linear },
} as const
export type TargetId = keyof typeof TARGETS
export const TARGET_IDS = Object.keys(TARGETS) as TargetId[]

/** Gamuts that coverage is counted of. */
export const GAMUTS = {
  srgb: { label: 'sRGB', linear: sRGB_Linear },
  'display-p3': { label: 'Display P3', linear: P3_Linear },
  bt2020: { label: 'BT.2020', linear: REC_2020_Linear },
} as const
export type GamutId = keyof typeof GAMUTS
export const GAMUT_IDS = Object.keys(GAMUTS) as GamutId[]

/** XYZ with Y = 1 at white, of coordinates in a space of the library. */
function relativeXyz(space: ColorSpace, rgb: Rgb): Xyz {
  const { coords } = to({ space, coords: [...rgb], alpha: 1 }, XYZ_D65)
  return [coords[0] ?? 0, coords[1] ?? 0, coords[2] ?? 0]
}

const primariesOf = (id: GamutId): readonly [Xyz, Xyz, Xyz, Xyz] => {
  const { linear } = GAMUTS[id]
  const at = (r: number, g: number, b: number): Xyz => relativeXyz(linear, [r, g, b])
  return [at(1, 0, 0), at(0, 1, 0), at(0, 0, 1), at(1, 1, 1)]
}
const PRIMARIES = {
  srgb: primariesOf('srgb'),
  'display-p3': primariesOf('display-p3'),
  bt2020: primariesOf('bt2020'),
} as const satisfies Record<GamutId, unknown>

/** R, G, B and white of a gamut, XYZ with Y = 1 at white. */
export const gamutPrimaries = (id: GamutId): readonly [Xyz, Xyz, Xyz, Xyz] => PRIMARIES[id]

/** The same patches are asked for again and again while an uncertainty is followed through. */
const asked = new Map<string, Xyz>()
const MOST_ASKED = 4096

function known(id: TargetId, space: ColorSpace, rgb: Rgb): Xyz {
  const key = `${id} ${rgb.join(' ')}`
  const before = asked.get(key)
  if (before !== undefined) return before
  if (asked.size >= MOST_ASKED) asked.clear()
  const xyz = relativeXyz(space, rgb)
  asked.set(key, xyz)
  return xyz
}

/** Luminance of a BT.1886 display for a coded value 0–1: a·max(V + b, 0)^2.4, from its white and black in cd/m². */
export function bt1886(value: number, white: number, black: number): number {
  const high = white ** (1 / 2.4)
  const low = Math.max(0, black) ** (1 / 2.4)
  return (high - low) ** 2.4 * Math.max(0, value + low / (high - low)) ** 2.4
}

/**
 * XYZ in cd/m² that a target asks for at coded values 0–1, with white at the display's own luminance. BT.1886 also
 * starts from the display's black; the others start from none.
 */
export function targetXyz(id: TargetId, rgb: Rgb, white: number, black: number): Xyz {
  const { coded, linear } = TARGETS[id]
  const [x, y, z] =
    coded === null
      ? relativeXyz(linear, [
          bt1886(rgb[0], white, black) / white,
          bt1886(rgb[1], white, black) / white,
          bt1886(rgb[2], white, black) / white,
        ])
      : known(id, coded, rgb)
  return [x * white, y * white, z * white]
}
