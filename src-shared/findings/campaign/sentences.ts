import { hertz, listed, withUncertainty } from '#shared/domain/quantity-text.ts'
import type { CampaignAnswer, SettingStep } from './answer.ts'
import { type Estimate, u95Of } from './estimate.ts'
import { type FigureId, FIGURE_IDS, FIGURES, type Limits } from './figures.ts'
import type { SettingRange } from './usable-range.ts'

/** A statement drawn from numbers, with the sweeps it rests on. */
export interface Sentence {
  readonly text: string
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
  fromHz === toHz ? `at ${hertz(fromHz)} Hz only` : `from ${hertz(fromHz)} to ${hertz(toHz)} Hz`

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
        ? `No setting keeps the limits ${over}.`
        : `No setting is shown to keep the limits ${over}; for ${listed(open)} the measurements cannot tell.`
    return [{ text, sweepIds: ranges.flatMap(idsOf), figures }]
  }
  const names = wholeRange.map(({ setting }) => setting)
  const only = names.length === 1 && ranges.length > 1 ? 'Only ' : ''
  const mean =
    best.mean === null
      ? ''
      : `; the mean duration of ${best.setting} over ${weighting === 'equal' ? 'the rates measured' : 'the range'} is ${estimateText('duration_mean', best.mean)}`
  const verb = names.length === 1 ? 'keeps' : 'keep'
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
  const usable =
    range.spans.length === 0
      ? 'is shown usable at no rate measured'
      : `is usable ${listed(range.spans.map(({ fromHz, toHz }) => spanText(fromHz, toHz)))}`
  const bad = rates('not-usable')
  const open = rates('cannot-tell')
  const parts = [
    bad.length === 0 ? '' : `not usable at ${listed(bad)} Hz`,
    open.length === 0 ? '' : `at ${listed(open)} Hz the limit lies inside the uncertainty`,
    range.missingHz.length === 0 ? '' : `not measured at ${listed(range.missingHz.map(hertz))} Hz`,
  ].filter((part) => part !== '')
  return {
    text: `${range.setting} ${usable}${parts.length === 0 ? '' : `; ${parts.join('; ')}`}.`,
    sweepIds: idsOf(range),
    figures: FIGURE_IDS.filter((id) => limits[id] !== undefined),
  }
}

/** One sentence a pair of settings and a refresh rate, and only when some difference holds. */
function stepSentences({ ranges, steps }: CampaignAnswer): Sentence[] {
  return steps.flatMap((step) => {
    const shown = FIGURE_IDS.flatMap((id) => {
      const found = step.differences[id]
      return found?.shown === true ? [{ id, found }] : []
    })
    if (shown.length === 0) return []
    const text = listed(shown.map(({ id, found }) => changeText(id, found)))
    return [
      {
        text: `At ${hertz(step.refreshHz)} Hz, ${step.to} has ${text} than ${step.from}.`,
        sweepIds: sweepsOf(ranges, step),
        figures: shown.map(({ id }) => id),
      },
    ]
  })
}

function changeText(id: FigureId, change: Estimate): string {
  const { phrase, unit } = FIGURES[id]
  const up = change.value > 0
  const word = unit === 's' ? (up ? 'longer' : 'shorter') : up ? 'higher' : 'lower'
  const size = withUncertainty(Math.abs(change.value), u95Of(change), unit).replace(/ %$/, ' points')
  return `a ${phrase} ${size} ${word}`
}

const sweepsOf = (ranges: readonly SettingRange[], { refreshHz, from, to }: SettingStep): number[] =>
  ranges
    .filter(({ setting }) => setting === from || setting === to)
    .flatMap(({ points }) =>
      points.filter(({ point }) => point.refreshHz === refreshHz).map(({ point }) => point.sweepId),
    )
