import { describe, expect, it } from 'vitest'
import { fc } from '../support/fast-check.ts'
import { DEFAULT_RECIPE } from '#shared/domain/recipe.ts'
import { contrastRatio, inkOn, relativeLuminance, toOklab, type Rgb } from '../../src-renderer/ui/colour.ts'
import { differenceColours, diverging } from '../../src-renderer/ui/difference-colours.ts'
import { badness, extentOf, fixedScale, judge, pinnedScale } from '../../src-renderer/ui/measure-scale.ts'
import { SCALE_INK, sequential } from '../../src-renderer/ui/sequential-colours.ts'
import { MATRIX_MEASURES } from '../../src-renderer/ui/measures-shown.ts'

/**
 * Linear sRGB as seen without one kind of cone: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A physiologically-based
 * model for simulation of color vision deficiency", IEEE TVCG 15(6) (2009), matrices of severity 1.0 (from memory).
 */
const WITHOUT = {
  red: [0.152286, 1.052583, -0.204868, 0.114503, 0.786281, 0.099216, -0.003882, -0.048116, 1.051998],
  green: [0.367322, 0.860646, -0.227968, 0.280085, 0.672501, 0.047413, -0.01182, 0.04294, 0.968881],
  blue: [1.255528, -0.076749, -0.178779, -0.078411, 0.930809, 0.147602, 0.004733, 0.691367, 0.3039],
  none: [1, 0, 0, 0, 1, 0, 0, 0, 1],
} as const

function seen(colour: Rgb, without: keyof typeof WITHOUT): Rgb {
  const m = WITHOUT[without]
  const linear = colour.map((c) => (c / 255 <= 0.04045 ? c / 255 / 12.92 : ((c / 255 + 0.055) / 1.055) ** 2.4))
  const code = (row: number): number => {
    const v = linear.reduce((sum, channel, i) => sum + (m[3 * row + i] as number) * channel, 0)
    const cut = Math.min(1, Math.max(0, v))
    return 255 * (cut <= 0.0031308 ? 12.92 * cut : 1.055 * cut ** (1 / 2.4) - 0.055)
  }
  return [code(0), code(1), code(2)]
}

const apart = (a: Rgb, b: Rgb): number => {
  const [x, y] = [toOklab(a), toOklab(b)]
  return Math.hypot(x[0] - y[0], x[1] - y[1], x[2] - y[2])
}
const STEPS = 8
const steps = (theme: 'dark' | 'light', without: keyof typeof WITHOUT): number[] => {
  const colours = Array.from({ length: STEPS + 1 }, (_, i) => seen(sequential(i / STEPS, theme), without))
  return colours.slice(1).map((colour, i) => apart(colour, colours[i] as Rgb))
}

describe.each(['dark', 'light'] as const)('the scale of the matrices, %s', (theme) => {
  it('is even: eight equal steps differ alike, as far as 8 bits go', () => {
    const all = steps(theme, 'none')
    expect(Math.max(...all) / Math.min(...all)).toBeLessThan(1.08)
    expect(Math.min(...all)).toBeGreaterThan(0.04)
  })

  it.each(['red', 'green', 'blue'] as const)('keeps its steps apart and in order without cones for %s', (without) => {
    expect(Math.min(...steps(theme, without))).toBeGreaterThan(0.02)
    const lightness = Array.from({ length: 33 }, (_, i) => toOklab(seen(sequential(i / 32, theme), without))[0])
    const sign = theme === 'dark' ? 1 : -1
    lightness.slice(1).forEach((value, i) => expect(sign * (value - (lightness[i] as number))).toBeGreaterThan(0))
  })

  it('carries one colour of text at 4.5 : 1 everywhere', () => {
    for (let i = 0; i <= 256; i++)
      expect(contrastRatio(sequential(i / 256, theme), SCALE_INK[theme])).toBeGreaterThanOrEqual(4.5)
  })

  it('is no traffic light: nothing on it is green', () => {
    for (let i = 0; i <= 64; i++) {
      const [red, green, blue] = sequential(i / 64, theme)
      expect(green).toBeLessThan(Math.max(red, blue))
    }
  })

  it('clamps', () => {
    expect(sequential(-1, theme)).toEqual(sequential(0, theme))
    expect(sequential(7, theme)).toEqual(sequential(1, theme))
  })
})

describe('contrast', () => {
  it('matches the ends of the WCAG definition', () => {
    expect(contrastRatio([0, 0, 0], [255, 255, 255])).toBeCloseTo(21, 10)
    expect(contrastRatio([118, 118, 118], [255, 255, 255])).toBeCloseTo(4.54, 2)
    expect(inkOn([250, 250, 200])).toEqual([0, 0, 0])
  })
})

describe('from value to scale', () => {
  it('goes from good to bad for every measure, whichever way its numbers go', () => {
    for (const measure of MATRIX_MEASURES) {
      const scale = fixedScale(measure, 144, DEFAULT_RECIPE)
      expect([measure, badness(scale.good, scale), badness(scale.bad, scale)]).toEqual([measure, 0, 1])
      if (scale.limit !== null) expect(badness(scale.limit, scale)).toBeGreaterThan(0)
    }
    const snr = fixedScale('snr', 60, DEFAULT_RECIPE)
    expect(badness(10, snr)).toBeGreaterThan(badness(500, snr))
  })

  it('depends on measure and refresh only, so that sweeps compare; the limit of a time is one refresh', () => {
    const at60 = fixedScale('transition_duration_s', 60, DEFAULT_RECIPE)
    expect(at60.limit).toBeCloseTo(1 / 60, 12)
    expect(fixedScale('transition_duration_s', 240, DEFAULT_RECIPE).bad).toBeCloseTo(at60.bad / 4, 12)
    const tolerant = { ...DEFAULT_RECIPE, inWindow: { of: 'settling', tolerancePct: 10 } as const }
    expect(fixedScale('settling_s', 100, tolerant).limit).toBeCloseTo(0.011, 12)
    expect(fixedScale('arrival_s', 100, tolerant).limit).toBeCloseTo(0.01, 12)
  })

  it('judges against the limit, and not where the interval holds it', () => {
    const scale = fixedScale('transition_duration_s', 100, DEFAULT_RECIPE)
    expect(judge(0.011, null, scale)).toBe('outside')
    expect(judge(0.011, 0.002, scale)).toBe('undecided')
    expect(judge(0.009, 0.0001, scale)).toBe('inside')
    const snr = fixedScale('snr', 60, DEFAULT_RECIPE)
    expect([judge(10, null, snr), judge(500, null, snr)]).toEqual(['outside', 'inside'])
    expect(judge(0.5, null, fixedScale('in_window', 60, DEFAULT_RECIPE))).toBe('inside')
  })

  it('keeps its direction when its ends are pinned', () => {
    const share = pinnedScale(fixedScale('in_window', 60, DEFAULT_RECIPE), 0.5, 1)
    expect([badness(1, share), badness(0.5, share)]).toEqual([0, 1])
    expect(badness(3, pinnedScale(share, 2, 2))).toBe(0.5)
  })

  it('ignores what is not a number and answers null for nothing', () => {
    expect(extentOf([null, 3, Number.NaN, -1, 2])).toEqual({ min: -1, max: 3 })
    expect(extentOf([null, null])).toBeNull()
  })
})

describe('differences', () => {
  const distance = (a: Rgb, b: Rgb) => Math.hypot(a[0] - b[0], a[1] - b[1], a[2] - b[2])

  it.each(['dark', 'light'] as const)(
    'departs further from the middle on both sides, alike in lightness: %s',
    (theme) => {
      const none = diverging(0, theme)
      for (const side of [-1, 1]) {
        let before = 0
        for (let i = 1; i <= 20; i++) {
          const away = Math.abs(relativeLuminance(diverging((side * i) / 20, theme)) - relativeLuminance(none))
          expect(away).toBeGreaterThan(before)
          before = away
        }
      }
      expect(diverging(-3, theme)).toEqual(diverging(-1, theme))
      expect(distance(diverging(-1, theme), diverging(1, theme))).toBeGreaterThan(120)
    },
  )

  it('is orange for more and purple for less', () => {
    for (const theme of ['dark', 'light'] as const) {
      const [moreRed, , moreBlue] = diverging(1, theme)
      const [lessRed, lessGreen, lessBlue] = diverging(-1, theme)
      expect(moreRed).toBeGreaterThan(moreBlue + 100)
      expect(lessBlue).toBeGreaterThan(lessRed)
      expect(lessRed).toBeGreaterThan(lessGreen)
    }
  })

  it('always carries readable digits', () => {
    fc.assert(
      fc.property(
        fc.double({ min: -1, max: 1, noNaN: true }),
        fc.constantFrom('dark' as const, 'light' as const),
        (t, theme) => {
          const { background, ink } = differenceColours(t, 1, theme)
          expect(contrastRatio(background, ink)).toBeGreaterThanOrEqual(4.5)
        },
      ),
    )
  })

  it('shows the middle where nothing differs', () => {
    expect(differenceColours(0, 0, 'dark').background).toEqual(diverging(0, 'dark'))
  })
})
