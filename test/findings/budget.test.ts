/** Budgets of transitions: truths are the numbers the sweeps are drawn from, statistics of the normal distribution. */
import { describe, expect, it } from 'vitest'
import type { MatrixEntry } from '#shared/domain/views.ts'
import { budgetTerms, cellBudget } from '#shared/findings/budget.ts'
import { cellStatistics } from '#shared/findings/matrix.ts'
import { spreads } from '#shared/findings/pooling.ts'
import { summarise } from '#shared/findings/summary.ts'
import { gaussian, uniform } from '../reference/waves.ts'
import { entry, matrix } from './fixture.ts'

const D = 'transition_duration_s'
const LEVELS = [0, 41, 78, 119, 162, 208, 255]
const PAIRS = LEVELS.flatMap((from) => LEVELS.filter((to) => to !== from).map((to) => [from, to] as const))

interface Sweep {
  readonly truth: number
  /** Standard deviation of one capture, what it states of it, and the part that is the same in all captures. */
  readonly s: number
  readonly u?: number
  readonly common?: number
}

/** Share of transitions whose interval holds the truth, of those that state one, and the share that states one. */
function coverage(sweeps: number, n: number, seed: number, cellOf: (random: () => number) => Sweep) {
  const next = gaussian(seed)
  const random = uniform(seed + 1)
  let inside = 0
  let stated = 0
  let pooled = 0
  let means = 0
  for (let sweep = 0; sweep < sweeps; sweep++) {
    const cells = PAIRS.map(() => cellOf(random))
    const shift = next()
    const entries = cells.map(({ truth, s, u, common = 0 }, i) => [
      PAIRS[i]!.join('-'),
      Array.from({ length: n }, (_, k): MatrixEntry => {
        const value = truth + s * next() + common * shift
        return entry(
          1000 * i + k,
          { [D]: value },
          u === undefined ? {} : { uncertainties: { [D]: Math.hypot(u, common) }, common: { [D]: common } },
        )
      }),
    ])
    const data = matrix(LEVELS, Object.fromEntries(entries) as Record<string, MatrixEntry[]>)
    cellStatistics(data, D).forEach(({ mean, u95, pooledAs }, i) => {
      if (u95 === null) return
      stated++
      if (pooledAs !== null) pooled++
      if (Math.abs((mean as number) - cells[i]!.truth) <= u95) inside++
    })
    const truth = cells.reduce((sum, cell) => sum + cell.truth, 0) / cells.length
    const { mean } = summarise(data, { darkCode: 100, overshootLimitPct: 5 })
    if (mean.u95 !== null && Math.abs((mean.value as number) - truth) <= mean.u95) means++
  }
  const all = sweeps * PAIRS.length
  return { share: inside / stated, stated: stated / all, pooled: pooled / all, mean: means / sweeps }
}

const duration = (random: () => number): number => 1e-3 * 20 ** random()

describe('coverage of U95 of a transition with three repeats', () => {
  it.each([
    ['equal spreads', () => ({ truth: 5e-3, s: 1e-4 })],
    [
      'spreads in proportion to the value',
      (random: () => number) => {
        const truth = duration(random)
        return { truth, s: 0.02 * truth }
      },
    ],
    [
      'spreads as stated, from 1 to 30',
      (random: () => number) => {
        const s = 1e-5 * 30 ** random()
        // What is stated may be wrong altogether: the scatter says by how much.
        return { truth: duration(random), s, u: 0.6 * s }
      },
    ],
    ['a shared error as large as the spread', () => ({ truth: 5e-3, s: 1e-4, u: 1e-4, common: 1e-4 })],
  ] as const)('%s: 93 to 97 %, of the mean over transitions too', (name, cellOf) => {
    const { share, stated, pooled, mean } = coverage(300, 3, 5, cellOf)
    console.log(
      `${name}: ${(100 * share).toFixed(1)} % (${(100 * stated).toFixed(0)} % stated, ${(100 * pooled).toFixed(0)} % pooled), mean ${(100 * mean).toFixed(1)} %`,
    )
    expect(stated).toBeGreaterThan(0.9)
    expect(share).toBeGreaterThan(0.93)
    expect(share).toBeLessThan(0.97)
    expect(mean).toBeGreaterThan(0.91)
  })

  it('spreads of no common kind are not pooled: no interval is better than a wrong one', () => {
    const { share, stated, pooled } = coverage(300, 3, 6, (random) => ({
      truth: duration(random),
      s: 1e-5 * 30 ** random(),
    }))
    console.log(`unlike: ${(100 * share).toFixed(1)} %, ${(100 * stated).toFixed(0)} % stated`)
    expect(stated).toBeLessThan(0.1)
    expect(pooled).toBe(stated)
  })
})

describe('budget of a transition', () => {
  it('does not fall to nothing with the repeats', () => {
    // s_p 0.06 (ν 40), 0.05 known well, n = 3 and ∞: u² = 0.06²/3 + 0.05².
    const spread = { s: 0.06, dof: 40, pooledAs: 'size' as const }
    const found = cellBudget(3, spread, [{ u: 0.05, common: 0.05 }])
    expect(found?.u).toBeCloseTo(Math.sqrt(0.0012 + 0.0025), 12)
    expect(found?.dof).toBeCloseTo(0.0037 ** 2 / (0.0012 ** 2 / 40), 6)
    expect(cellBudget(1e6, spread, [{ u: 0.05, common: 0.05 }])?.u95).toBeCloseTo(1.96 * 0.05, 3)
  })

  it('adds no noise twice: what captures state of their own is in their scatter', () => {
    const spread = { s: 0.1, dof: 4, pooledAs: null }
    const plain = cellBudget(5, spread, [])
    expect(cellBudget(5, spread, [{ u: 0.1, common: 0 }])).toEqual(plain)
    expect(plain?.u95).toBeCloseTo((2.776445 * 0.1) / Math.sqrt(5), 6)
  })

  it('takes what captures state where they scatter far less, as in front of a coarse converter', () => {
    const found = cellBudget(5, { s: 0, dof: 4, pooledAs: null }, [{ u: 0.1, common: 0 }])
    expect(found?.fromStated).toBe(true)
    expect(found?.u).toBeCloseTo(0.1 / Math.sqrt(5), 12)
    // s of 0.06 against 0.1 is no news with four degrees of freedom: F = 2.8 < 13.7.
    expect(cellBudget(5, { s: 0.06, dof: 4, pooledAs: null }, [{ u: 0.1, common: 0 }])?.fromStated).toBe(false)
  })

  it('lists its terms by size under the names of their causes, each with what makes it smaller', () => {
    // s of 0.3 in nine captures: 0.1; shared 0.2² = 0.16² + 0.12²; together √0.05.
    const found = cellBudget(9, { s: 0.3, dof: 8, pooledAs: null }, [{ u: Math.hypot(0.2, 0.25), common: 0.2 }])!
    const causes = [
      { name: 'Noise', u: 0.24, averages: true },
      { name: 'Detector', u: 0.16, averages: false },
      { name: 'Unfinished tail', u: 0.12, averages: false },
      { name: 'Ripple left', u: 0.07, averages: true },
    ]
    const terms = budgetTerms(found, 9, causes)
    expect(terms.map(({ name }) => name)).toEqual(['Detector', 'Unfinished tail', 'Scatter of the repeats'])
    for (const [i, share] of [51.2, 28.8, 20].entries()) expect(terms[i]?.sharePct).toBeCloseTo(share, 9)
    expect(terms.map(({ remedy }) => remedy)).toEqual([
      'A faster detector.',
      'A longer dwell.',
      // Noise makes up 64 % of the scatter's variance.
      'More repeats: four times as many halve it. More light on the detector, or a smaller range.',
    ])
    // Noise of a third of that explains little of the scatter, so that nothing is said of it.
    const display = budgetTerms(found, 9, [{ name: 'Noise', u: 0.1, averages: true }])
    expect(display.find(({ averages }) => averages)?.remedy).toBe('More repeats: four times as many halve it.')
    expect(display[0]).toMatchObject({ name: 'Everything that repeats do not average', remedy: '' })
    // What is known of some captures may not come to more than all of them state.
    const some = budgetTerms(found, 9, [{ name: 'Detector', u: 0.4, averages: false }])
    expect(some[0]).toMatchObject({ name: 'Detector', u: 0.2 })
    expect(some.reduce((sum, { sharePct }) => sum + sharePct, 0)).toBeCloseTo(100, 9)
  })

  it('says nothing without repeats, unless the sweep lends its spread', () => {
    expect(cellBudget(0, null, [])).toBeNull()
    expect(cellBudget(1, null, [])).toBeNull()
    expect(cellBudget(1, null, [{ u: 1, common: 0.5 }])?.u95).toBeNull()
    const [single] = spreads([
      { values: [7], u: null },
      ...Array.from({ length: 20 }, () => ({ values: [1, 2, 3], u: null })),
    ])
    expect(single).toEqual({ s: 1, dof: 40, pooledAs: 'size' })
  })

  it('leaves a transition that scatters far more to itself', () => {
    const wild = { values: [1, 20, 40], u: null }
    const found = spreads([wild, ...Array.from({ length: 20 }, () => ({ values: [1, 2, 3], u: null }))])
    expect(found[0]).toMatchObject({ dof: 2, pooledAs: null })
    expect(found[1]).toMatchObject({ dof: 40, pooledAs: 'size' })
  })
})

describe('shares with undecided captures', () => {
  const window = (id: number, inside: number | null, undecided = false) =>
    entry(id, { [D]: 1, in_window: inside, overshoot_pct: 0 }, { undecided })
  const data = matrix([0, 255], {
    '0-255': [window(1, 1), window(2, 1), window(3, null, true), window(4, 0), window(5, null)],
    '255-0': [window(6, null, true), window(7, 1), window(8, 1), window(9, 1), window(10, 1)],
  })

  it('count yes, no and undecided, and reach from the certain share to that with the undecided', () => {
    const { inWindowShare } = summarise(data, { darkCode: 100, overshootLimitPct: 5 })
    expect(inWindowShare).toMatchObject({ n: 9, count: 6, undecided: 2 })
    expect(inWindowShare.value).toBeCloseTo((100 * 6) / 9, 10)
    // Wilson: 6 of 9 from 35.42 %, 8 of 9 to 98.01 % (statsmodels' formula, by hand in Python).
    expect(inWindowShare.lowPct).toBeCloseTo(35.4202, 2)
    expect(inWindowShare.highPct).toBeCloseTo(98.0109, 2)
    expect(inWindowShare.note).toMatch(/2 undecided/)
  })

  it('stand in the matrix as the certain share, with the undecided beside', () => {
    const [up, down] = cellStatistics(data, 'in_window', 5)
    expect(up).toMatchObject({ n: 4, mean: 0.5, undecided: 1, withoutValue: 1, missing: 0 })
    expect(up?.note).toMatch(/1 of 4 undecided/)
    expect(down).toMatchObject({ n: 5, mean: 0.8, undecided: 1, withoutValue: 0 })
    expect(cellStatistics(data, D, 5)[0]).toMatchObject({ n: 5, undecided: 0 })
  })

  it('hold an overshoot against its limit with its uncertainty', () => {
    const over = (id: number, value: number, u: number) =>
      entry(id, { [D]: 1, overshoot_pct: value }, { uncertainties: { overshoot_pct: u } })
    const of = matrix([0, 255], { '0-255': [over(1, 6, 0.4), over(2, 5.5, 0.4), over(3, 4.9, 0.4), over(4, 4, 0.4)] })
    expect(summarise(of, { darkCode: 100, overshootLimitPct: 5 }).overshootOverLimitShare).toMatchObject({
      n: 4,
      count: 1,
      undecided: 2,
    })
  })
})
