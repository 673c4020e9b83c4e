/** Findings, reports and evidence bundles of a campaign. */
import { mkdir, writeFile } from 'node:fs/promises'
import { basename, dirname, join, resolve } from 'node:path'
import { type Command, Option } from 'commander'
import { AppError } from '#shared/domain/errors.ts'
import { answer } from '#shared/findings/campaign/answer.ts'
import {
  DEFAULT_LIMITS,
  FIGURE_IDS,
  FIGURES,
  type FigureId,
  type Judgement,
  type Limits,
  USUAL_JUDGEMENT,
} from '#shared/findings/campaign/figures.ts'
import type { Weighting } from '#shared/findings/campaign/over-refresh.ts'
import { DEFAULT_RECIPE, recipeHash } from '#shared/domain/recipe.ts'
import { estimateText, limitsText, sentences } from '#shared/findings/campaign/sentences.ts'
import { STROBE_COLUMNS, strobeRows } from '#shared/findings/campaign/strobe-places.ts'
import { strobeSentences } from '#shared/findings/campaign/strobe-sentences.ts'
import { conditionsText } from '#shared/findings/campaign/record-compare.ts'
import { recordFigureInfo } from '#shared/record/figures.ts'
import { valueText } from '#shared/record/quantity.ts'
import { hertz, plural } from '#shared/domain/quantity-text.ts'
import { REPORT_CHAPTERS, type ReportChapter } from '#shared/domain/report-chapters.ts'
import type { BundleExtra } from '#shared/domain/bundle.ts'
import { writeExport } from '#main/export/file.ts'
import { createPublishing, type Publishing } from '#main/core/campaign/publish.ts'
import { knownCampaign } from '../campaigns.ts'
import { chooseRecipe } from '../choose-recipe.ts'
import type { CliHost } from '../host.ts'
import { oneOf } from '../options.ts'
import { textTable, type Output } from '../output.ts'

export interface PublishOptions {
  readonly archive: string
  readonly recipe?: string
  readonly weighting?: Weighting
  readonly limit?: Limits
}

/** `overshoot_mean<=5`, `in_window_share>=80`; times in ms. Repeated options add up, starting from nothing. */
function limitOption(text: string, before: Limits | undefined): Limits {
  const [, name = '', sign, number = ''] = /^([a-z_]+)\s*(<=|>=)\s*(\d+(?:\.\d+)?)$/.exec(text.trim()) ?? []
  const id = FIGURE_IDS.find((one) => one === name)
  if (id === undefined || sign === undefined)
    throw new AppError(
      'invalid-input',
      `“${text}” is not a limit.`,
      `Write "figure<=number" in quotation marks; figures are ${FIGURE_IDS.join(', ')}.`,
    )
  const value = Number(number) / (FIGURES[id].unit === 's' ? 1000 : 1)
  return { ...before, [id]: { bound: sign === '<=' ? 'at-most' : 'at-least', value } }
}

function addPublishOptions(command: Command): Command {
  return addLimitOptions(
    command
      .argument('<campaign>', 'campaign by name or number')
      .option('--recipe <recipe>', 'recipe: name, hash or JSON file; default: the one in use'),
    'as kept with the campaign, else ',
  )
}

/** What usable means, and how rates are weighed; without them as kept with a campaign, where one is asked of, else the usual ones. */
export function addLimitOptions(command: Command, kept = ''): Command {
  return command
    .addOption(
      new Option('--weighting <how>', `mean over refresh: equal or trapezoid (default: ${kept}equal)`).argParser(
        oneOf(['equal', 'trapezoid'] as const),
      ),
    )
    .addOption(
      new Option(
        '--limit <"figure<=number">',
        `what usable means; may be repeated, times in ms (default: ${kept}${limitsText(DEFAULT_LIMITS)})`,
      ).argParser(limitOption),
    )
}

interface Published {
  readonly publishing: Publishing
  readonly campaignId: number
  readonly recipeHash: string
  readonly judgement: Judgement
}

/** Reads a campaign, which must be there, under the recipe asked for or the one in use; also while another program writes. */
async function withCampaign(
  name: string,
  options: PublishOptions,
  host: CliHost,
  work: (published: Published) => Promise<void>,
): Promise<void> {
  const store = await host.openStore(options.archive, 'look')
  try {
    const known = await store.recipes()
    const inUse = (await store.recipesInUse()).current
    const found =
      options.recipe === undefined
        ? (known.find(({ hash }) => hash === inUse) ?? { recipe: DEFAULT_RECIPE, hash: recipeHash(DEFAULT_RECIPE) })
        : await chooseRecipe(options.recipe, known)
    const { id: campaignId } = knownCampaign(await store.campaigns(), name)
    const kept = (await store.judgement({ campaignId })) ?? USUAL_JUDGEMENT
    const publishing = createPublishing({
      store,
      recipes: { current: () => found.recipe, currentHash: () => found.hash, get: () => found.recipe },
      publisher: await host.publisher(),
      version: host.version,
    })
    const judgement = { limits: options.limit ?? kept.limits, weighting: options.weighting ?? kept.weighting }
    await work({ publishing, campaignId, recipeHash: found.hash, judgement })
  } finally {
    await store.close()
  }
}

export function describeFindings(command: Command): Command {
  return addPublishOptions(
    command.description('what a campaign answers: usable ranges, the best setting, what a step costs'),
  ).addHelpText(
    'after',
    `
Example:
  slewlight findings "Panel A" --limit "overshoot_mean<=5" --limit "in_window_share>=80"

Without the quotation marks a shell would take < and > for files.`,
  )
}

export async function runFindings(name: string, options: PublishOptions, host: CliHost, output: Output): Promise<void> {
  await withCampaign(name, options, host, async ({ publishing, campaignId, recipeHash: hash, judgement }) => {
    const { points, record, strobe, leftOut } = await publishing.content(campaignId, hash)
    const { limits, weighting } = judgement
    const found = answer(points, limits, weighting)
    const lines = [...sentences(found, limits), ...strobeSentences(strobe, points)]
    const shown = ['duration_mean', 'overshoot_mean', 'in_window_share', 'dark_mean'] as const satisfies FigureId[]
    output.result(
      {
        campaign_id: campaignId,
        recipe_hash: hash,
        limits,
        weighting,
        points,
        record,
        strobe,
        answer: found,
        sentences: lines,
        left_out: leftOut,
      },
      () =>
        [
          ...(points.length === 0 ? ['No sweep of this campaign has results under this recipe.'] : []),
          ...lines.map(({ text }) => text),
          `Usable means ${limitsText(limits)}. These limits are a choice, not a standard.`,
          '',
          textTable(
            ['Setting', 'Hz', ...shown.map((id) => FIGURES[id].label), 'Usable'],
            found.ranges.flatMap(({ points: judged }) =>
              judged.map(({ point, verdict }) => [
                point.setting,
                hertz(point.refreshHz),
                ...shown.map((id) => {
                  const estimate = point.figures[id]
                  return estimate === null ? '–' : estimateText(id, estimate)
                }),
                { usable: 'yes', 'not-usable': 'no', 'cannot-tell': 'cannot tell' }[verdict],
              ]),
            ),
          ),
          ...(strobe.length === 0
            ? []
            : ['', 'Strobe crosstalk by place:', textTable(STROBE_COLUMNS, strobeRows(strobe))]),
          ...(record.length === 0
            ? []
            : [
                '',
                textTable(
                  ['On record', 'Value', 'Measured'],
                  record.map((value) => [
                    recordFigureInfo(value.figure).label,
                    valueText(value),
                    conditionsText(value.conditions),
                  ]),
                ),
              ]),
          ...leftOut.map(({ sweepId, reason }) => `Left out: sweep ${sweepId}. ${reason}`),
        ].join('\n'),
    )
  })
}

const NO_PNG =
  'PNG needs the optional packages @resvg/resvg-js and dejavu-fonts-ttf, which are not installed here: SVG and CSV only.'

export interface ReportOptions extends PublishOptions {
  readonly out: string
  readonly figures?: string
  readonly chapters?: ReportChapter[]
}

function chaptersOption(text: string): ReportChapter[] {
  return text.split(',').map((name) => {
    const chapter = REPORT_CHAPTERS.find((one) => one === name.trim())
    if (chapter === undefined)
      throw new AppError('invalid-input', `“${name}” is not a chapter.`, `Choose from ${REPORT_CHAPTERS.join(', ')}.`)
    return chapter
  })
}

export function describeReport(command: Command): Command {
  return addPublishOptions(command.description('a report of a campaign: HTML that works offline, or PDF'))
    .requiredOption('--out <file>', 'where to; .html or .pdf')
    .option(
      '--chapters <list>',
      `what follows the answer, parted by commas: ${REPORT_CHAPTERS.join(', ')} (default: all)`,
      chaptersOption,
    )
    .option('--figures <folder>', 'also every figure as SVG and PNG (two pixels for one), and its numbers as CSV')
    .addHelpText('after', '\nExample:\n  slewlight report "Panel A" --out panel-a.html --figures figures')
}

export async function runReport(name: string, options: ReportOptions, host: CliHost, output: Output): Promise<void> {
  const ending = /\.(pdf|html?)$/i.exec(options.out)?.[1]?.toLowerCase()
  if (ending === undefined)
    throw new AppError('invalid-input', `${options.out} is neither .html nor .pdf.`, 'Name the file by its form.')
  const form = ending === 'pdf' ? 'pdf' : 'html'
  await withCampaign(name, options, host, async ({ publishing, campaignId, judgement }) => {
    const request = { campaignId, ...judgement }
    const { bytes } = await writeExport(options.out, await publishing.report(request, form, options.chapters))
    const files = options.figures === undefined ? [] : await publishing.figures(request, options.chapters)
    if (options.figures !== undefined) await writeFigures(options.figures, files)
    const figures = files.filter(({ path }) => path.endsWith('.svg')).length
    const pictures = files.filter(({ path }) => path.endsWith('.png')).length
    if (pictures < figures) output.note(NO_PNG)
    output.result(
      { path: resolve(options.out), bytes, figures, png: pictures },
      () =>
        `${options.out}: ${(bytes / 1000).toFixed(0)} kB${figures === 0 ? '' : `, ${plural(figures, 'figure')} in ${options.figures ?? ''}`}`,
    )
  })
}

async function writeFigures(folder: string, files: readonly BundleExtra[]): Promise<void> {
  await mkdir(folder, { recursive: true })
  for (const { path, bytes } of files) await writeFile(join(folder, basename(path)), bytes)
}

export interface BundleOptions extends PublishOptions {
  readonly out: string
}

export function describeBundle(command: Command): Command {
  return addPublishOptions(
    command.description('an evidence bundle: report, results, recipe and raw traces for anyone to check'),
  )
    .requiredOption('--out <path>', 'a folder that does not exist yet, or a file ending in .zip')
    .addHelpText('after', '\nExample:\n  slewlight bundle "Panel A" --out panel-a.zip && slewlight verify panel-a.zip')
}

export async function runBundle(name: string, options: BundleOptions, host: CliHost, output: Output): Promise<void> {
  await withCampaign(name, options, host, async ({ publishing, campaignId, judgement }) => {
    const request = { campaignId, ...judgement }
    if (/\.zip$/i.test(options.out)) {
      await mkdir(dirname(resolve(options.out)), { recursive: true })
      await writeExport(options.out, await publishing.bundleZip(request))
    } else await publishing.bundle(request, resolve(options.out))
    output.result(
      { path: resolve(options.out) },
      () => `${options.out} is written. To check it: slewlight verify ${options.out}`,
    )
  })
}
