/** No sentence claims a difference that U95 does not carry: every claim is read back and computed again. */
import { fc } from '../../support/fast-check.ts'
import { describe, expect, it } from 'vitest'
import { answer } from '#shared/findings/campaign/answer.ts'
import { type ComparedDisplay, compareDisplays, rankingSentence } from '#shared/findings/campaign/displays.ts'
import { type Estimate, WELL_KNOWN } from '#shared/findings/campaign/estimate.ts'
import { FIGURE_IDS, FIGURES, type FigureId, type MeasuredPoint } from '#shared/findings/campaign/figures.ts'
import { sentences } from '#shared/findings/campaign/sentences.ts'

/** Two-sided 95 % of the normal law; the uncertainties here are known well. */
const Z = 1.959964
const RATES = [60, 120, 144]
const SETTINGS = ['Off', 'Gentle', 'Strong']
const LIMITS = { overshoot_mean: { bound: 'at-most', value: 5 } } as const

/** Values around one another by about their uncertainties, so that claims of every kind come up. */
const estimate = (scale: number) =>
  fc
    .tuple(fc.double({ min: 0.5, max: 1.5, noNaN: true }), fc.double({ min: 0.01, max: 0.4, noNaN: true }))
    .map(([value, u]): Estimate => ({ value: scale * value, u: scale * u, dof: WELL_KNOWN, shared: 0 }))

const figures = fc
  .record({ duration_mean: estimate(0.005), overshoot_mean: estimate(5), in_window_share: estimate(60) })
  .map((some) => ({ ...(Object.fromEntries(FIGURE_IDS.map((id) => [id, null])) as MeasuredPoint['figures']), ...some }))

const points = fc.array(figures, { minLength: 9, maxLength: 9 }).map((all) =>
  all.map((own, i): MeasuredPoint => ({
    sweepId: i + 1,
    setting: SETTINGS[Math.floor(i / 3)] as string,
    refreshHz: RATES[i % 3] as number,
    figures: own,
  })),
)

const differ = (a: Estimate, b: Estimate): boolean => Math.abs(a.value - b.value) > Z * Math.hypot(a.u ?? 0, b.u ?? 0)
const phrased = (text: string): FigureId | undefined =>
  FIGURE_IDS.find((id) => text.startsWith(`${FIGURES[id].phrase} `))

describe('what sentences claim', () => {
  it('is carried by U95 of the difference at each rate they name, in the direction they say', () => {
    let claims = 0
    fc.assert(
      fc.property(points, (all) => {
        const at = (setting: string, hz: number) => all.find((one) => one.setting === setting && one.refreshHz === hz)!
        for (const { text } of sentences(answer(all, LIMITS, 'equal'), LIMITS)) {
          const [, to, from, told] = /^(\w+) against (\w+): (.+)\.$/.exec(text) ?? []
          if (to === undefined || from === undefined || told === undefined || told.startsWith('no difference')) continue
          for (const part of told.split('; ')) {
            const id = phrased(part)!
            const more = / (longer|higher) by /.test(part)
            const rates = (/ at ([\d, and]+) Hz$/.exec(part)?.[1] ?? '').split(/, | and /).map(Number)
            expect(rates.length).toBeGreaterThan(0)
            for (const hz of rates) {
              const [a, b] = [at(from, hz).figures[id]!, at(to, hz).figures[id]!]
              expect(differ(a, b)).toBe(true)
              expect(b.value > a.value).toBe(more)
              claims++
            }
          }
        }
      }),
      { numRuns: 300, seed: 11 },
    )
    expect(claims).toBeGreaterThan(100)
  })

  it('of usable rates keeps the whole interval within the limit', () => {
    let claims = 0
    fc.assert(
      fc.property(points, (all) => {
        const found = answer(all, LIMITS, 'equal')
        for (const { text } of sentences(found, LIMITS)) {
          const [, names] = /^(?:Only )?(.+) meets? the limits from/.exec(text) ?? []
          for (const setting of names?.startsWith('No setting') ? [] : (names?.split(/, | and /) ?? [])) {
            for (const hz of RATES) {
              const own = all.find((one) => one.setting === setting && one.refreshHz === hz)!.figures.overshoot_mean!
              expect(own.value + Z * own.u!).toBeLessThanOrEqual(5 + 1e-6)
              claims++
            }
          }
        }
      }),
      { numRuns: 300, seed: 12 },
    )
    expect(claims).toBeGreaterThan(100)
  })

  it('of displays names a first only where it differs from every other, and shared parts of two rigs do not cancel', () => {
    const one = (name: string, own: MeasuredPoint['figures'], rigs: readonly string[]): ComparedDisplay => {
      const measured = [{ sweepId: 1, setting: 'Off', refreshHz: 60, figures: own }]
      const limits = { duration_mean: { bound: 'at-most', value: 1 } } as const
      const data = { name, invented: true, recipeHash: 'a', algorithm: '1', levels: [0, 255], rigs, record: [] }
      return { ...data, points: measured, answer: answer(measured, limits, 'equal') }
    }
    let firsts = 0
    fc.assert(
      fc.property(fc.array(figures, { minLength: 2, maxLength: 5 }), fc.boolean(), (all, twoRigs) => {
        // What is shared would hide in a difference of one rig, and is most of the doubt.
        const shared = (own: Estimate): Estimate => ({ ...own, u: own.u! / 10, shared: own.u! })
        const displays = all.map((own, i) =>
          one(`D${i}`, { ...own, duration_mean: shared(own.duration_mean) }, [`rig ${twoRigs ? i : 0}`]),
        )
        const found = compareDisplays(displays, 'duration_mean', { kind: 'fastest-usable', refreshHz: 60 })
        const [, first] = /^(D\d) is first/.exec(rankingSentence(found)) ?? []
        if (first === undefined) return
        firsts++
        const of = (name: string) =>
          displays.find((display) => display.name === name)!.points[0]!.figures.duration_mean!
        for (const { name } of displays.filter((display) => display.name !== first)) {
          const whole = (own: Estimate) => ({ ...own, u: twoRigs ? Math.hypot(own.u!, own.shared) : own.u })
          expect(differ(whole(of(first)), whole(of(name)))).toBe(true)
          expect(of(first).value).toBeLessThan(of(name).value)
        }
      }),
      { numRuns: 300, seed: 13 },
    )
    expect(firsts).toBeGreaterThan(50)
  })
})
