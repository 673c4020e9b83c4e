import { resolve } from 'node:path'
import type { Command } from 'commander'
import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import { hertz, plural } from '#shared/domain/quantity-text.ts'
import { DEFAULT_RECIPE } from '#shared/domain/recipe.ts'
import { compareAlike, rankingSentence } from '#shared/findings/campaign/displays.ts'
import { DEFAULT_LIMITS, FIGURE_IDS, FIGURES, type FigureId, type Limits } from '#shared/findings/campaign/figures.ts'
import { displaysIn, type LibraryArchive } from '#shared/findings/campaign/library.ts'
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
import { chooseRecipe, PRESETS } from '../choose-recipe.ts'
import { EXIT, type ExitCode } from '../exit-codes.ts'
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
  readonly measure?: boolean
}

export function describeCompareDisplays(command: Command): Command {
  command
    .description('displays of any number of archives side by side, like with like; nothing in them changes')
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
    .option('--measure', 'measure what an archive lacks under the recipe, on a copy of it')
  return addLimitOptions(command).addHelpText(
    'after',
    `
Example:
  slewlight compare-displays a.sqlite b.sqlite --figure overshoot_mean --at 144

Displays that the measurements cannot tell apart share ranks (Welch's t, Holm over all pairs).`,
  )
}

export async function runCompareDisplays(
  paths: readonly string[],
  options: CompareDisplaysOptions,
  host: CliHost,
  output: Output,
  signal: AbortSignal,
): Promise<ExitCode> {
  const archives = await archivesOf([...new Set(paths.map((path) => resolve(path)))], options, host, output, signal)
  const unread = archives.flatMap(({ path, problem }) =>
    problem === null ? [] : [{ name: path, reason: `${problem.message} ${problem.remedy}`.trim() }],
  )
  const unmeasured = archives.flatMap(({ name, campaigns }) =>
    campaigns
      .filter((campaign) => campaign.unmeasured > 0)
      .map((campaign) => ({
        name: campaign.display || campaign.name,
        reason: `${plural(campaign.unmeasured, 'capture')} in ${name} without a result under this recipe; --measure measures what is missing.`,
      })),
  )
  const { figure, weighting = 'equal', limit: limits = DEFAULT_LIMITS, at } = options
  const data = displaysIn(archives).map((display) => display.data)
  const missing = [...unread, ...unmeasured]
  const code = missing.length > 0 ? EXIT.incomplete : EXIT.done
  const recorded = RECORD_FIGURE_IDS.find((id) => id === figure)
  if (recorded !== undefined && data.length > 1) {
    showRecords(compareRecords(data, recorded), missing, output)
    return code
  }
  const measured = figure as FigureId
  const question = { judgement: { limits, weighting }, figure: measured, at: at ?? null }
  const { displays, leftOut: unlike, rates, found } = compareAlike(data, question)
  const leftOut = [...missing, ...unlike]
  if (displays.length < 2)
    throw new AppError(
      'conflict',
      [
        data.length === 0
          ? 'No campaign has results under this recipe.'
          : data.length === 1
            ? 'Only one campaign has results under this recipe.'
            : 'No two displays are alike.',
        ...leftOut.map(({ name, reason }) => `${name}: ${reason}`),
      ].join(' '),
      data.length < 2 ? 'Add archives, or measure their captures under it with --measure.' : 'Compare like with like.',
    )
  output.result(
    {
      limits,
      common_refresh_hz: rates,
      simulated: displays.every(({ invented }) => invented),
      ...found,
      ranking: found.ranking.ranked,
      left_out: leftOut,
    },
    () =>
      [
        rankingSentence(found),
        `Usable means ${limitsText(limits)}.`,
        ...rankedTable(
          ['Rank', 'Display', 'Setting', FIGURES[measured].label],
          found.entries.map(({ name, setting, estimate }, i) => {
            const { best, worst } = found.ranking.ranked[i] ?? { best: 0, worst: 0 }
            return [best === worst ? String(best) : `${best}–${worst}`, name, setting, estimateText(measured, estimate)]
          }),
        ),
        ...[...leftOut, ...found.without].map(({ name, reason }) => `${name}: ${reason}`),
        at === undefined ? `Refresh rates all of them share: ${rates.map(hertz).join(', ')} Hz.` : '',
      ].join('\n'),
  )
  return code
}

async function archivesOf(
  paths: readonly string[],
  options: CompareDisplaysOptions,
  host: CliHost,
  output: Output,
  signal: AbortSignal,
): Promise<LibraryArchive[]> {
  const { reader, close } = await host.library()
  try {
    const recipes = new Map(PRESETS.map((one) => [one.hash, one]))
    for (const path of paths) for (const one of await reader.recipes(path)) recipes.set(one.hash, one)
    const { recipe } = await chooseRecipe(options.recipe, [...recipes.values()])
    const archives: LibraryArchive[] = []
    for (const path of paths) {
      const found = await reader.read(path, recipe)
      const lacking = found.campaigns.some(({ unmeasured }) => unmeasured > 0)
      if (!lacking || options.measure !== true) {
        archives.push(found)
        continue
      }
      try {
        await reader.measure(path, recipe, {
          signal,
          onProgress: ({ done, total }) =>
            output.progress(`${found.name}: ${done} of ${total} captures`, { done, total }),
        })
        archives.push(await reader.read(path, recipe))
      } catch (error) {
        // One that cannot be measured keeps none of the others from being compared.
        if (signal.aborted) throw error
        archives.push({ ...found, problem: toErrorDetail(error), campaigns: [] })
      } finally {
        output.progressEnd()
      }
    }
    return archives
  } finally {
    await close()
  }
}

function showRecords(
  found: RecordComparison,
  leftOut: readonly { readonly name: string; readonly reason: string }[],
  output: Output,
): void {
  const { label, better, derived } = recordFigureInfo(found.figure)
  const entries = found.entries.map(({ name, value, fromFirst }, i) => ({
    name,
    ...value,
    u95: u95Of(value.estimate),
    from_first: fromFirst,
    ...(found.ranking.ranked[i] ?? { best: null, worst: null, letters: '' }),
  }))
  output.result(
    {
      figure: found.figure,
      better,
      derived,
      conditions: found.conditions,
      entries,
      without: found.without,
      left_out: leftOut,
    },
    () =>
      [
        recordRankingSentence(found),
        ...(entries.length === 0 ? [] : [`Measured alike: ${conditionsText(found.conditions)}. ${derived}`]),
        ...rankedTable(
          [better === null ? 'Group' : 'Rank', 'Display', label, 'Minus the first'],
          entries.map(({ name, best, worst, letters, from_first: fromFirst }, i) => [
            better === null ? letters : best === worst ? String(best) : `${best}–${worst}`,
            name,
            valueText((found.entries[i] as RecordEntry).value),
            fromFirst === null ? '–' : differenceText(fromFirst),
          ]),
        ),
        ...[...leftOut, ...found.without].map(({ name, reason }) => `${name}: ${reason}`),
      ].join('\n'),
  )
}

/** Nothing to rank has no table either. */
const rankedTable = (titles: readonly string[], rows: readonly (readonly string[])[]): string[] =>
  rows.length === 0 ? [] : ['', textTable(titles, rows)]
