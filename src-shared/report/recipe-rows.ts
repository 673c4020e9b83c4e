/** A recipe in words, for the table of a report: what is measured, and by which numbers. */
import type { Recipe } from '#shared/domain/recipe.ts'
import { plural } from '#shared/domain/quantity-text.ts'

const number = (value: number): string => String(Number(value.toPrecision(6)))
const ms = (seconds: number): string => `${number(seconds * 1000)} ms`

const ORDINATES: Readonly<Record<Recipe['ordinate'], string>> = {
  luminance: 'luminance',
  code: 'grey-level code, through the ladder',
  lightness: 'lightness L*, through the ladder',
}

function durationText({ duration }: Recipe): string {
  if (duration.kind === 'percent')
    return `from ${number(duration.percent)} % to ${number(100 - duration.percent)} % of the step`
  const half = duration.kind === 'codes' ? `${number(duration.codes)} codes` : `${number(duration.lightness)} L*`
  return `from leaving ± ${half} about the start to entering ± ${half} about the end`
}

function bandText(band: Recipe['startBand']): string {
  if (band.kind === 'percent') return `± ${number(band.percent)} % of the step`
  return band.kind === 'codes' ? `± ${number(band.codes)} codes` : `± ${number(band.lightness)} L*`
}

function levelsText({ levels }: Recipe): string {
  if (levels.kind === 'ladder') return 'those of the ladder'
  if (levels.kind === 'histogram') return `${levels.statistic} of a histogram of ${levels.bins} bins (IEEE Std 181)`
  return `${levels.statistic} over the last ${number(100 * levels.beforeShare)} % of what lies before the step and the last ${number(100 * levels.afterShare)} % of the dwell`
}

function conditionText({ condition }: Recipe): string {
  const at = (hz: number | null): string => (hz === null ? 'its detected frequency' : `${number(hz)} Hz`)
  if (condition.kind === 'none') return 'left as recorded'
  if (condition.kind === 'divide') return `divided by the waveform of the backlight at ${at(condition.frequencyHz)}`
  if (condition.kind === 'one-period-mean')
    return `running mean over ${plural(condition.periods, 'period')} at ${at(condition.frequencyHz)}`
  if (condition.kind === 'low-pass')
    return `low-pass, ${condition.shape}, ${number(condition.cutoffHz)} Hz, ${condition.phase === 'zero' ? 'zero phase' : 'causal'}`
  return `Savitzky–Golay, ${condition.points} points, order ${condition.order}`
}

/** Parameter and value, in the order of the work. */
export function recipeRows(recipe: Recipe): [parameter: string, value: string][] {
  const { inWindow, detectorS, errorSpanS } = recipe
  return [
    ['Measured on', ORDINATES[recipe.ordinate]],
    ['Transition duration', durationText(recipe)],
    ['Start band (onset)', bandText(recipe.startBand)],
    ['End band (arrival, settling)', bandText(recipe.endBand)],
    ['State levels', levelsText(recipe)],
    ['Ripple and noise', conditionText(recipe)],
    [
      'In window',
      `${inWindow.of} at most the refresh period${inWindow.tolerancePct === 0 ? '' : ` plus ${number(inWindow.tolerancePct)} %`}`,
    ],
    ['Integrated error, from onset', errorSpanS === null ? 'to the end of the record' : ms(errorSpanS)],
    ['Detector’s own 10–90 % time', detectorS === null ? 'not stated' : ms(detectorS)],
    ['Corrected for the detector', recipe.correctDetector ? 'yes, by root sum of squares' : 'no'],
    ['Dark steps', `both levels at code ${recipe.darkCode} or under`],
    ['Overshoot counts as over the limit', `beyond ${number(recipe.overshootLimitPct)} % of the step`],
  ]
}
