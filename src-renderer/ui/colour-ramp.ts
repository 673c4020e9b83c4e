/**
 * Colour ramp for magnitudes: cividis, perceptually uniform and made for colour-vision deficiency.
 * J. R. Nuñez, C. R. Anderton, R. S. Renslow, "Optimizing colormaps with consideration for color vision deficiency to
 * enable accurate interpretation of scientific data", PLoS ONE 13(7) e0199239 (2018). The table below holds 20 rows of
 * the 256-entry table published with matplotlib; linear interpolation between them stays within two 8-bit codes of it.
 */
export type Rgb = readonly [red: number, green: number, blue: number]

/** Row of the published table, then red, green, blue in 0–1. */
const CIVIDIS: readonly (readonly [row: number, red: number, green: number, blue: number])[] = [
  [0, 0, 0.135112, 0.304751],
  [8, 0, 0.157932, 0.357521],
  [16, 0, 0.178802, 0.414764],
  [22, 0, 0.193366, 0.441561],
  [32, 0.103401, 0.220406, 0.43579],
  [48, 0.195057, 0.264372, 0.425924],
  [64, 0.263738, 0.307831, 0.422789],
  [80, 0.32425, 0.351289, 0.42625],
  [96, 0.38083, 0.395164, 0.435653],
  [112, 0.435168, 0.439763, 0.451134],
  [128, 0.488697, 0.485318, 0.471008],
  [144, 0.54784, 0.531895, 0.471704],
  [160, 0.609105, 0.579816, 0.463638],
  [176, 0.671991, 0.629316, 0.448018],
  [192, 0.736488, 0.680629, 0.424028],
  [208, 0.802667, 0.733978, 0.390153],
  [224, 0.870717, 0.789572, 0.343333],
  [240, 0.941147, 0.84753, 0.275815],
  [251, 0.992218, 0.888385, 0.205468],
  [255, 0.995737, 0.909344, 0.217772],
]

/** Cividis at t in 0–1 (clamped) as 8-bit sRGB. */
export function cividis(t: number): Rgb {
  const at = Math.min(1, Math.max(0, t)) * 255
  const above = Math.max(
    1,
    CIVIDIS.findIndex(([row]) => row >= at),
  )
  const [row0, ...low] = CIVIDIS[above - 1] as (typeof CIVIDIS)[number]
  const [row1, ...high] = CIVIDIS[above] as (typeof CIVIDIS)[number]
  const share = (at - row0) / (row1 - row0)
  const channel = (i: 0 | 1 | 2) => Math.round((low[i] + (high[i] - low[i]) * share) * 255)
  return [channel(0), channel(1), channel(2)]
}

/** Linear light of an 8-bit sRGB code, 0–1 (IEC 61966-2-1). */
function linear(code: number): number {
  const v = code / 255
  return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4
}

/** Relative luminance of an sRGB colour, 0–1 (WCAG 2.2, definition of relative luminance). */
export function relativeLuminance([red, green, blue]: Rgb): number {
  return 0.2126 * linear(red) + 0.7152 * linear(green) + 0.0722 * linear(blue)
}

/** WCAG 2.2 contrast ratio, 1–21. */
export function contrastRatio(a: Rgb, b: Rgb): number {
  const [dark, light] = [relativeLuminance(a), relativeLuminance(b)].sort((x, y) => x - y) as [number, number]
  return (light + 0.05) / (dark + 0.05)
}

const BLACK: Rgb = [0, 0, 0]
const WHITE: Rgb = [255, 255, 255]

/** Black or white, whichever reads better on the colour; one of the two always reaches 4.58 : 1. */
export function inkOn(background: Rgb): Rgb {
  return contrastRatio(background, WHITE) >= contrastRatio(background, BLACK) ? WHITE : BLACK
}

export function css([red, green, blue]: Rgb): string {
  return `rgb(${red} ${green} ${blue})`
}

export interface RampScale {
  readonly min: number
  readonly max: number
  /** Share of cividis in use; below 1 on dark screens, so that no cell lights up the room. */
  readonly reach: number
}

/** Extent of the finite values; null when there is none. */
export function extentOf(values: readonly (number | null)[]): { min: number; max: number } | null {
  let min = Infinity
  let max = -Infinity
  for (const value of values) {
    if (value === null || !Number.isFinite(value)) continue
    min = Math.min(min, value)
    max = Math.max(max, value)
  }
  return min <= max ? { min, max } : null
}

/** Colours of one value; a scale without extent puts everything at its middle. */
export function rampColours(value: number, scale: RampScale): { background: Rgb; ink: Rgb } {
  const t = scale.max > scale.min ? (value - scale.min) / (scale.max - scale.min) : 0.5
  const background = cividis(Math.min(1, Math.max(0, t)) * scale.reach)
  return { background, ink: inkOn(background) }
}

/**
 * Ends and middle of the purple–orange scale for differences. The middle is near the surface of the theme, so that no
 * difference draws no attention; both arms go the same way in lightness, orange for more and purple for less.
 */
const DIVERGING: Readonly<Record<'dark' | 'light', { readonly less: Rgb; readonly none: Rgb; readonly more: Rgb }>> = {
  dark: { less: [142, 124, 207], none: [32, 39, 47], more: [205, 127, 44] },
  light: { less: [94, 60, 153], none: [247, 247, 247], more: [179, 88, 6] },
}

type Oklab = readonly [lightness: number, a: number, b: number]

/** sRGB to Oklab and back: B. Ottosson, "A perceptual color space for image processing" (2020). */
function toOklab([red, green, blue]: Rgb): Oklab {
  const [r, g, b] = [linear(red), linear(green), linear(blue)]
  const l = Math.cbrt(0.4122214708 * r + 0.5363325363 * g + 0.0514459929 * b)
  const m = Math.cbrt(0.2119034982 * r + 0.6806995451 * g + 0.1073969566 * b)
  const s = Math.cbrt(0.0883024619 * r + 0.2817188376 * g + 0.6299787005 * b)
  return [
    0.2104542553 * l + 0.793617785 * m - 0.0040720468 * s,
    1.9779984951 * l - 2.428592205 * m + 0.4505937099 * s,
    0.0259040371 * l + 0.7827717662 * m - 0.808675766 * s,
  ]
}

function fromOklab([lightness, a, b]: Oklab): Rgb {
  const l = (lightness + 0.3963377774 * a + 0.2158037573 * b) ** 3
  const m = (lightness - 0.1055613458 * a - 0.0638541728 * b) ** 3
  const s = (lightness - 0.0894841775 * a - 1.291485548 * b) ** 3
  const code = (v: number) =>
    Math.round(255 * Math.min(1, Math.max(0, v <= 0.0031308 ? 12.92 * v : 1.055 * v ** (1 / 2.4) - 0.055)))
  return [
    code(4.0767416621 * l - 3.3077115913 * m + 0.2309699292 * s),
    code(-1.2684380046 * l + 2.6097574011 * m - 0.3413193965 * s),
    code(-0.0041960863 * l - 0.7034186147 * m + 1.707614701 * s),
  ]
}

/** Purple–orange at t in −1 … 1 (clamped), even in Oklab: −1 purple, 0 the theme's middle, 1 orange. */
export function diverging(t: number, theme: 'dark' | 'light'): Rgb {
  const { less, none, more } = DIVERGING[theme]
  const share = Math.min(1, Math.abs(t))
  const [from, to] = [toOklab(none), toOklab(t < 0 ? less : more)]
  const mixed = from.map((value, i) => value + ((to[i] as number) - value) * share)
  return fromOklab(mixed as unknown as Oklab)
}

/** Colours of a difference on a scale that reaches `size` to both sides; without extent everything is the middle. */
export function differenceColours(
  difference: number,
  size: number,
  theme: 'dark' | 'light',
): { background: Rgb; ink: Rgb } {
  const background = diverging(size > 0 ? difference / size : 0, theme)
  return { background, ink: inkOn(background) }
}
