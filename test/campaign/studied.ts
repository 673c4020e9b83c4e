/** Which invented displays are studied, under which limits, and how displays of known truth rank. */
import type { CampaignContent } from '#main/core/campaign/findings.ts'
import type { DemoDisplay } from '#main/core/demo/content.ts'
import { ALGORITHM } from '#shared/domain/result.ts'
import { DEFAULT_RECIPE, recipeHash } from '#shared/domain/recipe.ts'
import { answer } from '#shared/findings/campaign/answer.ts'
import { compareDisplays, type Basis, type Comparison } from '#shared/findings/campaign/displays.ts'
import { DEFAULT_LIMITS, type Limits } from '#shared/findings/campaign/figures.ts'
import { FULL_GRID, inventedDisplay, type TrueFindings } from './library.ts'

const FEWER = { ...FULL_GRID, refreshHz: [60, 120, 165], repeats: 3 }

/** Two displays a panel, which differ in nothing but their noise. The first is the campaign of 5,040 captures. */
export const SIX_DISPLAYS: readonly DemoDisplay[] = [
  inventedDisplay('A', 'swift', 11, FULL_GRID),
  inventedDisplay('B', 'swift', 12, FEWER),
  inventedDisplay('C', 'plain', 21, FEWER),
  inventedDisplay('D', 'plain', 22, FEWER),
  inventedDisplay('E', 'dusk', 31, FEWER),
  inventedDisplay('F', 'dusk', 32, FEWER),
]

const overshoot = {
  overshoot_mean: { bound: 'at-most', value: 5 },
  overshoot_worst: { bound: 'at-most', value: 15 },
} as const satisfies Limits

/** Limits the findings are held against the truth under. */
export const LIMIT_SETS: readonly (readonly [name: string, limits: Limits])[] = [
  ['the usual limits', DEFAULT_LIMITS],
  ['overshoot alone', overshoot],
  [
    'a quick display',
    { duration_mean: { bound: 'at-most', value: 0.0045 }, overshoot_mean: { bound: 'at-most', value: 4 } },
  ],
]
export const OVERSHOOT_LIMITS: Limits = overshoot

export interface RankScore {
  readonly comparison: Comparison
  /** Differences that are claimed and true with this sign; claimed against the truth; true and not claimed. */
  readonly right: number
  readonly wrong: readonly string[]
  readonly missed: number
}

/** Displays by one figure under `OVERSHOOT_LIMITS`, each claimed difference held against the truth. */
export function ranksAgainstTruth(
  displays: readonly DemoDisplay[],
  contents: readonly CampaignContent[],
  truths: readonly TrueFindings[],
  basis: Basis & { readonly kind: 'fastest-usable' },
): RankScore {
  const compared = contents.map(({ campaign, sweeps }) => {
    const points = sweeps.map(({ point }) => point)
    return {
      name: campaign.display,
      invented: true,
      recipeHash: recipeHash(DEFAULT_RECIPE),
      algorithm: ALGORITHM,
      levels: displays[0]?.plan.sweep.levels ?? [],
      rigs: [],
      points,
      record: [],
      answer: answer(points, OVERSHOOT_LIMITS, 'equal'),
    }
  })
  const comparison = compareDisplays(compared, 'duration_mean', basis)
  const real = comparison.entries.map(({ name, setting }) => {
    const truth = truths[displays.findIndex(({ display }) => display === name)]
    const sweep = truth?.sweeps.find((one) => one.setting === setting && one.refresh === basis.refreshHz)
    if (sweep === undefined) throw new Error(`no truth for ${name}`)
    return sweep.duration_mean
  })
  let right = 0
  let missed = 0
  const wrong: string[] = []
  comparison.entries.forEach((a, i) =>
    comparison.entries.slice(i + 1).forEach((b, k) => {
      const j = i + 1 + k
      const differ = (real[j] as number) > (real[i] as number)
      if (comparison.ranking.differs(i, j)) {
        if (differ) right += 1
        else wrong.push(`${a.name} is told apart from ${b.name}`)
      } else if (real[i] !== real[j]) missed += 1
    }),
  )
  return { comparison, right, wrong, missed }
}
