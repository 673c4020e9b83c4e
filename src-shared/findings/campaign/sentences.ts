import { decimalsFor, fixed, hertz, listed, withUncertainty } from '#shared/domain/quantity-text.ts'
import type { CampaignAnswer, SettingStep } from './answer.ts'
import { type Estimate, u95Of } from './estimate.ts'
import { type FigureId, FIGURE_IDS, FIGURES, type Limits } from './figures.ts'
import type { JudgedPoint, SettingRange } from './usable-range.ts'

/** A statement drawn from numbers, with the sweeps it rests on. */
export interface Sentence {
  readonly text: string
  /** The same as a list, where it is one of several differences. */
  readonly list?: { readonly lead: string; readonly items: readonly string[] }
  readonly sweepIds: readonly number[]
  readonly figures: readonly FigureId[]
}

export const estimateText = (id: FigureId, estimate: Estimate): string =>
  withUncertainty(estimate.value, u95Of(estimate), FIGURES[id].unit)

/** `at least 80 % in-window share and at most 5 % mean overshoot`: what "usable" means. */
export function limitsText(limits: Limits): string {
  return listed(
    FIGURE_IDS.flatMap((id) => {
      const limit = limits[id]
      if (limit === undefined) return []
      const { unit, phrase } = FIGURES[id]
      const value = unit === 's' ? `${Number((limit.value * 1000).toPrecision(6))} ms` : `${limit.value} %`
      return [`${phrase} of ${limit.bound === 'at-most' ? 'at most' : 'at least'} ${value}`]
    }),
  )
}

const idsOf = (range: SettingRange): number[] => range.points.map(({ point }) => point.sweepId)
const spanText = (fromHz: number, toHz: number): string =>
  fromHz === toHz ? `at ${hertz(fromHz)} Hz` : `from ${hertz(fromHz)} to ${hertz(toHz)} Hz`

/** The answer first, then what each setting does, then what a step to the next one gains and costs. */
export function sentences(found: CampaignAnswer, limits: Limits): Sentence[] {
  return [
    ...wholeRangeSentences(found),
    ...found.ranges.map((range) => rangeSentence(range, limits)),
    ...stepSentences(found),
  ]
}

function wholeRangeSentences({ ranges, wholeRange, weighting }: CampaignAnswer): Sentence[] {
  const rates = [...new Set(ranges.flatMap(({ points }) => points.map(({ point }) => point.refreshHz)))]
  const figures: FigureId[] = ['duration_mean']
  if (rates.length === 0) return []
  const over = spanText(Math.min(...rates), Math.max(...rates))
  const best = wholeRange[0]
  if (best === undefined) {
    const open = ranges.filter((range) => range.wholeRange === 'cannot-tell').map(({ setting }) => setting)
    const text =
      open.length === 0
        ? `No setting meets the limits ${over}.`
        : `No setting is shown to meet the limits ${over}; for ${listed(open)} the measurements cannot tell.`
    return [{ text, sweepIds: ranges.flatMap(idsOf), figures }]
  }
  const names = wholeRange.map(({ setting }) => setting)
  const only = names.length === 1 && ranges.length > 1 ? 'Only ' : ''
  const mean =
    best.mean === null
      ? ''
      : `; the mean duration of ${best.setting} over ${weighting === 'equal' ? 'the rates measured' : 'the range'} is ${estimateText('duration_mean', best.mean)}`
  const verb = names.length === 1 ? 'meets' : 'meet'
  return [
    {
      text: `${only}${listed(names)} ${verb} the limits ${over}${mean}.`,
      sweepIds: ranges.filter(({ setting }) => names.includes(setting)).flatMap(idsOf),
      figures,
    },
  ]
}

function rangeSentence(range: SettingRange, limits: Limits): Sentence {
  const rates = (verdict: string): string[] =>
    range.points.filter((point) => point.verdict === verdict).map(({ point }) => hertz(point.refreshHz))
  const [first, ...others] = range.spans
  const only = first?.fromHz === first?.toHz && others.length === 0 && range.points.length > 1 ? ' only' : ''
  const usable =
    range.spans.length === 0
      ? 'is shown usable at no rate measured'
      : `is usable ${listed(range.spans.map(({ fromHz, toHz }) => spanText(fromHz, toHz)))}${only}`
  const bad = rates('not-usable')
  const open = rates('cannot-tell')
  // Where a figure has no value or no uncertainty, no limit lies inside anything.
  const valueless = range.points
    .filter(({ point, verdict, byFigure }) => verdict === 'cannot-tell' && lacking(point, byFigure))
    .map(({ point }) => hertz(point.refreshHz))
  const undecided = open.filter((hz) => !valueless.includes(hz))
  const parts = [
    bad.length === 0 ? '' : `not usable at ${listed(bad)} Hz`,
    undecided.length === 0 ? '' : `at ${listed(undecided)} Hz the limit lies inside the uncertainty`,
    valueless.length === 0 ? '' : `at ${listed(valueless)} Hz a figure with a limit has no value or no uncertainty`,
    range.missingHz.length === 0 ? '' : `not measured at ${listed(range.missingHz.map(hertz))} Hz`,
  ].filter((part) => part !== '')
  return {
    text: `${range.setting} ${usable}${parts.length === 0 ? '' : `; ${parts.join('; ')}`}.`,
    sweepIds: idsOf(range),
    figures: FIGURE_IDS.filter((id) => limits[id] !== undefined),
  }
}

const lacking = ({ figures }: JudgedPoint['point'], byFigure: JudgedPoint['byFigure']): boolean =>
  FIGURE_IDS.some((id) => {
    const estimate = figures[id]
    return byFigure[id] !== undefined && (estimate === null || u95Of(estimate) === null)
  })

/** One sentence a pair of settings that follow each other, of the differences that hold at some rate. */
function stepSentences({ ranges, steps }: CampaignAnswer): Sentence[] {
  const pairs = [...new Set(steps.map(({ from, to }) => `${from}\n${to}`))]
  return pairs.flatMap((key) => {
    const own = steps.filter(({ from, to }) => `${from}\n${to}` === key)
    const { from, to } = own[0] as SettingStep
    const told = FIGURE_IDS.flatMap((id) => changes(id, own).map((text) => ({ id, text })))
    const text =
      told.length === 0
        ? `${to} against ${from}: no difference is shown at any rate measured.`
        : `${to} against ${from}: ${told.map((one) => one.text).join('; ')}.`
    return [
      {
        text,
        ...(told.length < 2 ? {} : { list: { lead: `${to} against ${from}`, items: told.map((one) => one.text) } }),
        sweepIds: ranges.filter(({ setting }) => setting === from || setting === to).flatMap(idsOf),
        figures: [...new Set(told.map(({ id }) => id))],
      },
    ]
  })
}

/** `mean transition duration shorter by 1.8 to 2.1 ms (U95 up to 0.3 ms) at 60, 75 and 100 Hz`, one text a direction. */
function changes(id: FigureId, steps: readonly SettingStep[]): string[] {
  const { phrase, unit } = FIGURES[id]
  const scale = unit === 's' ? 1000 : 1
  const shownUnit = unit === 's' ? 'ms' : 'percentage points'
  return [-1, 1].flatMap((sign) => {
    const shown = steps.flatMap(({ refreshHz, differences }) => {
      const found = differences[id]
      return found?.shown === true && found.value * sign > 0 ? [{ refreshHz, found }] : []
    })
    if (shown.length === 0) return []
    const sizes = shown.map(({ found }) => Math.abs(found.value) * scale)
    const u95 = Math.max(...shown.map(({ found }) => u95Of(found) ?? 0)) * scale
    const decimals = decimalsFor(u95, 3)
    const [least, most] = [fixed(Math.min(...sizes), decimals), fixed(Math.max(...sizes), decimals)]
    const word = unit === 's' ? (sign > 0 ? 'longer' : 'shorter') : sign > 0 ? 'higher' : 'lower'
    const rates = listed(shown.map(({ refreshHz }) => hertz(refreshHz)))
    const size = least === most ? least : `${least} to ${most}`
    return [`${phrase} ${word} by ${size} ${shownUnit} (U95 up to ${fixed(u95, decimals)} ${shownUnit}) at ${rates} Hz`]
  })
}
