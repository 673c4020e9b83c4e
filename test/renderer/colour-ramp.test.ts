import { describe, expect, it } from 'vitest'
import * as fc from 'fast-check'
import {
  cividis,
  contrastRatio,
  extentOf,
  inkOn,
  rampColours,
  relativeLuminance,
  differenceColours,
  diverging,
  type Rgb,
} from '../../src-renderer/ui/colour-ramp.ts'

describe('cividis', () => {
  // Rows of the authors' table as published with matplotlib (read); none but the ends are in the ramp's own list.
  const table = [
    [0, 0.0, 0.135112, 0.304751],
    [12, 0.0, 0.168204, 0.385902],
    [27, 0.058378, 0.206629, 0.439531],
    [40, 0.154261, 0.242475, 0.43012],
    [63, 0.25974, 0.30512, 0.42281],
    [104, 0.408226, 0.417357, 0.44257],
    [120, 0.461616, 0.462405, 0.461969],
    [136, 0.51792, 0.508454, 0.472707],
    [191, 0.732422, 0.677364, 0.425717],
    [233, 0.91, 0.821885, 0.308594],
    [246, 0.968469, 0.869819, 0.24131],
    [255, 0.995737, 0.909344, 0.217772],
  ] as const

  it('stays within two 8-bit codes of the published table', () => {
    for (const [row, ...channels] of table) {
      const colour = cividis(row / 255)
      for (const i of [0, 1, 2] as const) expect(Math.abs(colour[i] - channels[i] * 255)).toBeLessThanOrEqual(2)
    }
  })

  it('grows in luminance from end to end', () => {
    let previous = -1
    for (let i = 0; i <= 64; i += 1) {
      const luminance = relativeLuminance(cividis(i / 64))
      expect(luminance).toBeGreaterThan(previous)
      previous = luminance
    }
  })

  it('always carries readable digits', () => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: 1, noNaN: true }), fc.constantFrom(0.72, 1), (t, reach) => {
        const { background, ink } = rampColours(t, { min: 0, max: 1, reach })
        expect(contrastRatio(background, ink)).toBeGreaterThanOrEqual(4.5)
      }),
    )
  })
})

describe('contrast', () => {
  it('matches the ends of the WCAG definition', () => {
    expect(contrastRatio([0, 0, 0], [255, 255, 255])).toBeCloseTo(21, 10)
    expect(contrastRatio([118, 118, 118], [255, 255, 255])).toBeCloseTo(4.54, 2)
    expect(inkOn([250, 250, 200])).toEqual([0, 0, 0])
  })
})

describe('scale', () => {
  it('ignores what is not a number and answers null for nothing', () => {
    expect(extentOf([null, 3, Number.NaN, -1, 2])).toEqual({ min: -1, max: 3 })
    expect(extentOf([null, null])).toBeNull()
  })

  it('clamps outliers and centres equal values', () => {
    expect(rampColours(9, { min: 0, max: 1, reach: 1 }).background).toEqual(cividis(1))
    expect(rampColours(5, { min: 5, max: 5, reach: 1 }).background).toEqual(cividis(0.5))
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
