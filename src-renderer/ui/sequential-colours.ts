/**
 * The scale of the matrices, from good to bad. Made in OKLCH for this program: good is next to the surface of the theme
 * and draws no attention, bad stands out in lightness, chroma and hue alike. Equal steps of the value are equal
 * distances in Oklab, lightness only ever goes one way, and no step hangs on telling red from green.
 */
import type { Theme } from './colour.ts'
import { fromOklab, type Oklab, type Rgb } from './colour.ts'

interface Oklch {
  readonly lightness: number
  readonly chroma: number
  /** Degrees. */
  readonly hue: number
}

const ENDS: Readonly<Record<Theme, { readonly good: Oklch; readonly bad: Oklch }>> = {
  dark: {
    good: { lightness: 0.26, chroma: 0.03, hue: 240 },
    bad: { lightness: 0.555, chroma: 0.18, hue: 358 },
  },
  light: {
    good: { lightness: 0.965, chroma: 0.015, hue: 240 },
    bad: { lightness: 0.635, chroma: 0.18, hue: 358 },
  },
}

/** The one colour of text on the scale; at least 4.5 : 1 on all of it. */
export const SCALE_INK: Readonly<Record<Theme, Rgb>> = { dark: [244, 247, 249], light: [16, 22, 28] }

/** Points of the path that are walked to find equal distances. */
const POINTS = 256
/** Colours made of it; between them a difference is hardly seen. */
const COLOURS = 65

function at({ good, bad }: (typeof ENDS)[Theme], share: number): Oklab {
  const mix = (key: keyof Oklch) => good[key] + (bad[key] - good[key]) * share
  const angle = (mix('hue') * Math.PI) / 180
  return [mix('lightness'), mix('chroma') * Math.cos(angle), mix('chroma') * Math.sin(angle)]
}

function evenly(theme: Theme): readonly Rgb[] {
  const path = Array.from({ length: POINTS + 1 }, (_, i) => at(ENDS[theme], i / POINTS))
  const lengths = [0]
  path.slice(1).forEach((point, i) => {
    const [l, a, b] = path[i] as Oklab
    lengths.push((lengths[i] as number) + Math.hypot(point[0] - l, point[1] - a, point[2] - b))
  })
  const whole = lengths[POINTS] as number
  return Array.from({ length: COLOURS }, (_, i) => {
    const wanted = (whole * i) / (COLOURS - 1)
    const above = Math.max(
      1,
      lengths.findIndex((length) => length >= wanted - 1e-12),
    )
    const [before, after] = [lengths[above - 1] as number, lengths[above] as number]
    return fromOklab(at(ENDS[theme], (above - 1 + (wanted - before) / (after - before)) / POINTS))
  })
}

const TABLES: Readonly<Record<Theme, readonly Rgb[]>> = { dark: evenly('dark'), light: evenly('light') }

/** Colour at t from 0 (good) to 1 (bad), clamped. */
export function sequential(t: number, theme: Theme): Rgb {
  const place = Math.round(Math.min(1, Math.max(0, t)) * (COLOURS - 1))
  return TABLES[theme][place] as Rgb
}
