/** What the program finds in an invented campaign beside what is true of it. */
import { answer, type CampaignAnswer } from '#shared/findings/campaign/answer.ts'
import { u95Of } from '#shared/findings/campaign/estimate.ts'
import { DEFAULT_LIMITS, type FigureId, type Limits, type MeasuredPoint } from '#shared/findings/campaign/figures.ts'
import { TRUE_FIGURES, type TrueFindings } from './library.ts'

export interface FigureScore {
  readonly figure: FigureId
  /** Sweeps whose true value lies within the U95 that is told, and all that tell one. */
  readonly within: number
  readonly all: number
  /** Largest distance from the truth, in parts of U95. */
  readonly worst: number
}

export interface FindingsScore {
  readonly figures: readonly FigureScore[]
  /** Verdicts that contradict the truth, in words. */
  readonly wrong: readonly string[]
  /** Verdicts left open: the limit lies inside the uncertainty. */
  readonly open: readonly string[]
  readonly sameSpans: boolean
  readonly sameWhole: boolean
  readonly answer: CampaignAnswer
}

export function againstTruth(
  points: readonly MeasuredPoint[],
  truth: TrueFindings,
  limits: Limits = DEFAULT_LIMITS,
): FindingsScore {
  const found = answer(points, limits, 'equal')
  const truthAt = ({ setting, refreshHz }: MeasuredPoint): TrueFindings['sweeps'][number] => {
    const one = truth.sweeps.find((sweep) => sweep.setting === setting && sweep.refresh === refreshHz)
    if (one === undefined) throw new Error(`no truth for ${setting} at ${refreshHz} Hz`)
    return one
  }
  const figures = TRUE_FIGURES.map((figure): FigureScore => {
    const distances = points.flatMap((point) => {
      const [estimate, real] = [point.figures[figure], truthAt(point)[figure]]
      const u95 = estimate === null ? null : u95Of(estimate)
      return estimate === null || real === null || u95 === null ? [] : [distance(estimate.value - real, u95)]
    })
    return {
      figure,
      within: distances.filter((d) => d <= 1).length,
      all: distances.length,
      worst: Math.max(0, ...distances),
    }
  })
  const judged = found.ranges.flatMap(({ points: own }) => own)
  const place = (point: MeasuredPoint): string => `${point.setting} at ${point.refreshHz} Hz`
  const spans = Object.fromEntries(
    found.ranges.map(({ setting, spans: own }) => [setting, own.map(({ fromHz, toHz }) => [fromHz, toHz])]),
  )
  return {
    figures,
    wrong: judged.flatMap(({ point, verdict }) =>
      verdict !== 'cannot-tell' && (verdict === 'usable') !== truthAt(point).usable
        ? [`${place(point)} is called ${verdict}`]
        : [],
    ),
    open: judged.flatMap(({ point, verdict }) => (verdict === 'cannot-tell' ? [place(point)] : [])),
    sameSpans: JSON.stringify(sorted(spans)) === JSON.stringify(sorted(truth.spans)),
    sameWhole: JSON.stringify(found.wholeRange.map(({ setting }) => setting)) === JSON.stringify(truth.whole),
    answer: found,
  }
}

/** Nothing is within an uncertainty of nothing but the value itself. */
const distance = (off: number, u95: number): number => (off === 0 ? 0 : Math.abs(off) / u95)

const sorted = (record: Readonly<Record<string, unknown>>): [string, unknown][] =>
  Object.entries(record).sort(([a], [b]) => (a < b ? -1 : 1))
