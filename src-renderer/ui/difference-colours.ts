/** Purple and orange for differences, apart from the scale for values, which goes from good to bad. */
import { fromOklab, inkOn, toOklab, type Oklab, type Rgb } from './colour.ts'
import type { Theme } from './colour.ts'

/**
 * Ends and middle. The middle is near the surface of the theme, so that no difference draws no attention; both arms go
 * the same way in lightness, orange for more and purple for less.
 */
const DIVERGING: Readonly<Record<Theme, { readonly less: Rgb; readonly none: Rgb; readonly more: Rgb }>> = {
  dark: { less: [142, 124, 207], none: [32, 39, 47], more: [205, 127, 44] },
  light: { less: [94, 60, 153], none: [247, 247, 247], more: [179, 88, 6] },
}

/** Purple–orange at t in −1 … 1 (clamped), even in Oklab: −1 purple, 0 the theme's middle, 1 orange. */
export function diverging(t: number, theme: Theme): Rgb {
  const { less, none, more } = DIVERGING[theme]
  const share = Math.min(1, Math.abs(t))
  const [from, to] = [toOklab(none), toOklab(t < 0 ? less : more)]
  const mixed = from.map((value, i) => value + ((to[i] as number) - value) * share)
  return fromOklab(mixed as unknown as Oklab)
}

/** Colours of a difference on a scale that reaches `size` to both sides; without extent everything is the middle. */
export function differenceColours(difference: number, size: number, theme: Theme): { background: Rgb; ink: Rgb } {
  const background = diverging(size > 0 ? difference / size : 0, theme)
  return { background, ink: inkOn(background) }
}
