import { difference, type Estimate } from './estimate.ts'
import type { FigureId, Limits, MeasuredPoint } from './figures.ts'
import { meanOverRefresh, type Weighting } from './over-refresh.ts'
import { equalityP, holm } from './ranks.ts'
import { type SettingRange, usableRanges } from './usable-range.ts'

/** The fastest usable setting at one refresh rate, and those not shown to be slower. */
export interface FastestAt {
  readonly refreshHz: number
  readonly fastest: MeasuredPoint | null
  readonly notShownSlower: readonly MeasuredPoint[]
}

/** What one setting gains or costs against the one before it at the same refresh rate: this − the one before. */
export interface SettingStep {
  readonly refreshHz: number
  readonly from: string
  readonly to: string
  readonly differences: Readonly<Partial<Record<FigureId, Estimate & { readonly shown: boolean }>>>
}

export interface CampaignAnswer {
  readonly ranges: readonly SettingRange[]
  /** Settings usable at every rate measured, the one with the shortest mean first. */
  readonly wholeRange: readonly { readonly setting: string; readonly mean: Estimate | null }[]
  readonly weighting: Weighting
  readonly fastest: readonly FastestAt[]
  readonly steps: readonly SettingStep[]
}

const SPEED: FigureId = 'duration_mean'
const COMPARED: readonly FigureId[] = [
  'duration_mean',
  'in_window_share',
  'overshoot_mean',
  'dark_mean',
  'blur_edge_mean',
]

/**
 * Everything a campaign answers under limits. Only measured rates count; a difference is `shown` when it holds at 5 %
 * over all differences of that figure (Holm).
 */
export function answer(points: readonly MeasuredPoint[], limits: Limits, weighting: Weighting): CampaignAnswer {
  const ranges = usableRanges(points, limits)
  const wholeRange = ranges
    .filter(({ wholeRange: verdict }) => verdict === 'usable')
    .map(({ setting, points: judged }) => ({
      setting,
      mean: meanOverRefresh(
        judged.flatMap(({ point }) => {
          const estimate = point.figures[SPEED]
          return estimate === null ? [] : [{ refreshHz: point.refreshHz, estimate }]
        }),
        weighting,
      ),
    }))
    .sort((a, b) => (a.mean?.value ?? Infinity) - (b.mean?.value ?? Infinity))
  return { ranges, wholeRange, weighting, fastest: fastestAtEach(ranges), steps: settingSteps(ranges) }
}

function fastestAtEach(ranges: readonly SettingRange[]): FastestAt[] {
  const judged = ranges.flatMap(({ points }) => points)
  const rates = [...new Set(judged.map(({ point }) => point.refreshHz))].sort((a, b) => a - b)
  return rates.map((refreshHz) => {
    const usable = judged
      .filter(
        ({ point, verdict }) => point.refreshHz === refreshHz && verdict === 'usable' && point.figures[SPEED] !== null,
      )
      .map(({ point }) => point)
      .sort((a, b) => speed(a).value - speed(b).value)
    const fastest = usable[0] ?? null
    const others = usable.slice(1)
    const adjusted = holm(others.map((other) => equalityP(speed(fastest as MeasuredPoint), speed(other)) ?? 1))
    return { refreshHz, fastest, notShownSlower: others.filter((_, i) => (adjusted[i] as number) >= 0.05) }
  })
}

const speed = (point: MeasuredPoint): Estimate => point.figures[SPEED] as Estimate

/** Settings stand in the order they were planned; a step is from each to the next that was measured at that rate. */
function settingSteps(ranges: readonly SettingRange[]): SettingStep[] {
  const rates = [...new Set(ranges.flatMap(({ points }) => points.map(({ point }) => point.refreshHz)))].sort(
    (a, b) => a - b,
  )
  const pairs = rates.flatMap((refreshHz) => {
    const measured = ranges.flatMap(({ points }) =>
      points.map(({ point }) => point).filter((p) => p.refreshHz === refreshHz),
    )
    return measured.slice(1).map((to, i) => ({ refreshHz, from: measured[i] as MeasuredPoint, to }))
  })
  const byPair = pairs.map((): Partial<Record<FigureId, Estimate & { shown: boolean }>> => ({}))
  for (const id of COMPARED) {
    const compared = pairs.flatMap(({ from, to }, pair) => {
      const [a, b] = [from.figures[id], to.figures[id]]
      return a === null || b === null ? [] : [{ pair, a, b }]
    })
    const adjusted = holm(compared.map(({ a, b }) => equalityP(a, b) ?? 1))
    compared.forEach(({ pair, a, b }, i) => {
      ;(byPair[pair] as (typeof byPair)[number])[id] = { ...difference(b, a), shown: (adjusted[i] as number) < 0.05 }
    })
  }
  return pairs.map(({ refreshHz, from, to }, i) => ({
    refreshHz,
    from: from.setting,
    to: to.setting,
    differences: byPair[i] as (typeof byPair)[number],
  }))
}
