import { resolve } from 'node:path'
import type { Command } from 'commander'
import { displaysOf } from '#main/core/campaign/findings.ts'
import { AppError } from '#shared/domain/errors.ts'
import { hertz } from '#shared/domain/quantity-text.ts'
import { DEFAULT_RECIPE } from '#shared/domain/recipe.ts'
import { answer } from '#shared/findings/campaign/answer.ts'
import {
  alike,
  commonRates,
  compareDisplays,
  rankingSentence,
  type Basis,
  type DisplayData,
} from '#shared/findings/campaign/displays.ts'
import { DEFAULT_LIMITS, FIGURE_IDS, FIGURES, type FigureId, type Limits } from '#shared/findings/campaign/figures.ts'
import { estimateText, limitsText } from '#shared/findings/campaign/sentences.ts'
import {
  compareRecords,
  conditionsText,
  differenceText,
  type RecordComparison,
  type RecordEntry,
  recordRankingSentence,
} from '#shared/findings/campaign/record-compare.ts'
import { u95Of } from '#shared/findings/campaign/estimate.ts'
import { RECORD_FIGURE_IDS, recordFigureInfo, type RecordFigureId } from '#shared/record/figures.ts'
import { valueText } from '#shared/record/quantity.ts'
import { chooseRecipe } from '../choose-recipe.ts'
import type { CliHost } from '../host.ts'
import { numberOption, oneOf } from '../options.ts'
import { textTable, type Output } from '../output.ts'
import { addLimitOptions } from './publish.ts'

export interface CompareDisplaysOptions {
  readonly recipe: string
  readonly figure: FigureId | RecordFigureId
  readonly at?: number
  readonly weighting?: 'equal' | 'trapezoid'
  readonly limit?: Limits
}

export function describeCompareDisplays(command: Command): Command {
  command
    .description('displays of any number of archives side by side, like with like')
    .argument('<archives...>', 'archives; every campaign with results under the recipe is a display')
    .option('--recipe <recipe>', 'recipe all are compared under: name, hash or JSON file', DEFAULT_RECIPE.name)
    .option(
      '--figure <figure>',
      `of the transitions: ${FIGURE_IDS.join(', ')}; of the record: ${RECORD_FIGURE_IDS.join(', ')}`,
      oneOf([...FIGURE_IDS, ...RECORD_FIGURE_IDS]),
      'duration_mean',
    )
    .option(
      '--at <hz>',
      'the fastest usable setting at this refresh rate; without it the one for the whole range',
      numberOption(10, 1000),
    )
  return addLimitOptions(command).addHelpText(
    'after',
    `
Example:
  slewlight compare-displays a.slewlight b.slewlight --figure overshoot_mean --at 144

Displays whose difference the measurements do not carry share ranks (Welch's t, Holm over all pairs).`,
  )
}

export async function runCompareDisplays(
  archives: readonly string[],
  options: CompareDisplaysOptions,
  host: CliHost,
  output: Output,
): Promise<void> {
  const data: DisplayData[] = []
  for (const path of archives) {
    const store = await host.openStore(resolve(path), 'look')
    try {
      const { hash, recipe } = await chooseRecipe(options.recipe, await store.recipes())
      data.push(...(await displaysOf(store, hash, recipe)))
    } finally {
      await store.close()
    }
  }
  const { figure, weighting = 'equal', limit: limits = DEFAULT_LIMITS, at } = options
  if (data.length < 2)
    throw new AppError(
      'conflict',
      `${data.length === 0 ? 'No campaign has' : 'Only one campaign has'} results under this recipe.`,
      'Measure the captures of each archive under it: slewlight reanalyse --recipe …',
    )
  const recorded = RECORD_FIGURE_IDS.find((id) => id === figure)
  if (recorded !== undefined) return showRecords(compareRecords(data, recorded), output)
  const measured = figure as FigureId
  const { displays: like, leftOut } = alike(data)
  if (like.length < 2)
    throw new AppError(
      'conflict',
      `No two displays are alike. ${leftOut.map(({ name, reason }) => `${name}: ${reason}`).join(' ')}`,
      'Compare like with like.',
    )
  const displays = like.map((one) => ({ ...one, answer: answer(one.points, limits, weighting) }))
  const basis: Basis = at === undefined ? { kind: 'whole-range', weighting } : { kind: 'fastest-usable', refreshHz: at }
  const found = compareDisplays(displays, measured, basis)
  output.result(
    { limits, common_refresh_hz: commonRates(displays), ...found, ranking: found.ranking.ranked, left_out: leftOut },
    () =>
      [
        rankingSentence(found),
        `Usable means ${limitsText(limits)}.`,
        '',
        textTable(
          ['rank', 'display', 'setting', FIGURES[measured].label],
          found.entries.map(({ name, setting, estimate }, i) => {
            const { best, worst } = found.ranking.ranked[i] ?? { best: 0, worst: 0 }
            return [best === worst ? String(best) : `${best}–${worst}`, name, setting, estimateText(measured, estimate)]
          }),
        ),
        ...[...leftOut, ...found.without].map(({ name, reason }) => `${name}: ${reason}`),
        at === undefined ? `Rates all share: ${commonRates(displays).map(hertz).join(', ')} Hz.` : '',
      ].join('\n'),
  )
}

function showRecords(found: RecordComparison, output: Output): void {
  const { label, better, derived } = recordFigureInfo(found.figure)
  const entries = found.entries.map(({ name, value, fromFirst }, i) => ({
    name,
    ...value,
    u95: u95Of(value.estimate),
    from_first: fromFirst,
    ...(found.ranking.ranked[i] ?? { best: null, worst: null, letters: '' }),
  }))
  output.result(
    { figure: found.figure, better, derived, conditions: found.conditions, entries, without: found.without },
    () =>
      [
        recordRankingSentence(found),
        ...(entries.length === 0 ? [] : [`Measured alike: ${conditionsText(found.conditions)}. ${derived}`]),
        '',
        textTable(
          [better === null ? 'group' : 'rank', 'display', label, 'from the first'],
          entries.map(({ name, best, worst, letters, from_first: fromFirst }, i) => [
            better === null ? letters : best === worst ? String(best) : `${best}–${worst}`,
            name,
            valueText((found.entries[i] as RecordEntry).value),
            fromFirst === null ? '–' : differenceText(fromFirst),
          ]),
        ),
        ...found.without.map(({ name, reason }) => `${name}: ${reason}`),
      ].join('\n'),
  )
}
