/** Colours as the screens mix and check them. */
/** Of the screens. */
export type Theme = 'dark' | 'light'
export type Rgb = readonly [red: number, green: number, blue: number]

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

export type Oklab = readonly [lightness: number, a: number, b: number]

/** sRGB to Oklab and back: B. Ottosson, "A perceptual color space for image processing" (2020). */
export function toOklab([red, green, blue]: Rgb): Oklab {
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

/** Colours outside sRGB are cut to it. */
export function fromOklab([lightness, a, b]: Oklab): Rgb {
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
