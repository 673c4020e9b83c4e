import { FIGURE_IDS, type FigureId, type Limits, type MeasuredPoint } from './figures.ts'
import { type Verdict, verdictOf, worstVerdict } from './limits.ts'

export interface JudgedPoint {
  readonly point: MeasuredPoint
  readonly verdict: Verdict
  /** Verdict on each limit; a figure without a value cannot be told. */
  readonly byFigure: Readonly<Partial<Record<FigureId, Verdict>>>
}

/** Neighbouring measured rates that are all usable, Hz. */
export interface RefreshSpan {
  readonly fromHz: number
  readonly toHz: number
  readonly rates: number
}

export interface SettingRange {
  readonly setting: string
  /** Measured rates, ascending. */
  readonly points: readonly JudgedPoint[]
  /** Usable spans of measured rates; between two measured rates nothing is claimed. */
  readonly spans: readonly RefreshSpan[]
  /** Over every rate the campaign measured at any setting: usable, not usable, or cannot tell (also where not measured). */
  readonly wholeRange: Verdict
  /** Rates of the campaign this setting was not measured at, Hz. */
  readonly missingHz: readonly number[]
}

export function judge(point: MeasuredPoint, limits: Limits): JudgedPoint {
  const byFigure: Partial<Record<FigureId, Verdict>> = {}
  for (const id of FIGURE_IDS) {
    const limit = limits[id]
    if (limit === undefined) continue
    const estimate = point.figures[id]
    byFigure[id] = estimate === null ? 'cannot-tell' : verdictOf(estimate, limit)
  }
  return { point, verdict: worstVerdict(Object.values(byFigure)), byFigure }
}

/** Usable refresh range of each setting under the limits, settings in the order they first appear. */
export function usableRanges(points: readonly MeasuredPoint[], limits: Limits): SettingRange[] {
  const allHz = [...new Set(points.map(({ refreshHz }) => refreshHz))].sort((a, b) => a - b)
  const settings = [...new Set(points.map(({ setting }) => setting))]
  return settings.map((setting) => {
    const judged = points
      .filter((point) => point.setting === setting)
      .map((point) => judge(point, limits))
      .sort((a, b) => a.point.refreshHz - b.point.refreshHz)
    const missingHz = allHz.filter((hz) => !judged.some(({ point }) => point.refreshHz === hz))
    const verdicts = judged.map(({ verdict }) => verdict)
    return {
      setting,
      points: judged,
      spans: usableSpans(judged, allHz),
      wholeRange: worstVerdict(missingHz.length > 0 ? [...verdicts, 'cannot-tell'] : verdicts),
      missingHz,
    }
  })
}

/** A rate of the campaign that the setting was not measured at ends a span, as one that is not usable does. */
function usableSpans(judged: readonly JudgedPoint[], allHz: readonly number[]): RefreshSpan[] {
  const usable = allHz.map((hz) => judged.some(({ point, verdict }) => point.refreshHz === hz && verdict === 'usable'))
  return allHz.flatMap((fromHz, first) => {
    if (usable[first] !== true || usable[first - 1] === true) return []
    const end = usable.indexOf(false, first)
    const rates = (end === -1 ? allHz.length : end) - first
    return [{ fromHz, toHz: allHz[first + rates - 1] as number, rates }]
  })
}
