import type { Command } from 'commander'
import { AppError } from '#shared/domain/errors.ts'
import type { ImportFile } from '#shared/domain/import.ts'
import { pairFromName, repeatFromName } from '#shared/import/file-name.ts'
import { guessMapping } from '#shared/import/guess.ts'
import { campaignNamed } from '../campaigns.ts'
import { chooseRecipe } from '../choose-recipe.ts'
import { EXIT, type ExitCode } from '../exit-codes.ts'
import type { CliHost, CliProcess } from '../host.ts'
import {
  addCampaignOptions,
  addTimeOptions,
  integerOption,
  numberOption,
  TIME_SCALES,
  type TimeUnit,
} from '../options.ts'
import type { Output } from '../output.ts'
import { sweepReport } from '../sweep-report.ts'
import { readText } from './measure.ts'
import { toErrorDetail } from '#shared/domain/errors.ts'

export interface ImportOptions {
  readonly archive: string
  readonly campaign: string
  readonly display: string
  readonly setting: string
  readonly refresh: number
  readonly recipe: string
  readonly from?: number
  readonly to?: number
  readonly interval?: number
  readonly timeUnit?: TimeUnit
}

export function describeImport(command: Command): Command {
  command
    .description('store recordings of another instrument as a sweep and measure them')
    .argument('<files...>', 'CSV files, one transition each')
    .requiredOption('--setting <label>', "overdrive setting as the display's menu calls it")
    .requiredOption('--refresh <hz>', 'refresh rate of the display', numberOption(10, 1000))
  addCampaignOptions(command, 'Imported')
    .option('--from <code>', 'level before the change, for all files (default: from each name)', integerOption(0, 255))
    .option('--to <code>', 'level after the change, for all files', integerOption(0, 255))
  return addTimeOptions(command).addHelpText(
    'after',
    `
Examples:
  slewlight import 0-255_r1.csv 0-255_r2.csv 255-0_r1.csv --setting Off --refresh 60
  slewlight import run*.csv --from 0 --to 255 --setting Strong --refresh 144 --campaign "Panel A"

Level pairs are read from names such as 0-255, 0_to_255 or 51→0. A file that cannot be read is named and left out
(exit code 1); when none can be read, nothing is stored (exit code 5).`,
  )
}

export async function runImport(
  files: readonly string[],
  options: ImportOptions,
  host: CliHost,
  process: CliProcess,
  output: Output,
): Promise<ExitCode> {
  const { read, problems } = await readFiles(files, options)
  const abort = new AbortController()
  const release = process.onInterrupt(() => abort.abort())
  const opened = await host.openCore({ archive: options.archive, stimulusPage: false, speed: 1, create: true })
  try {
    const { core, store } = opened
    const chosen = await chooseRecipe(options.recipe, await core.recipes.list())
    await core.recipes.save(chosen.recipe)
    await core.recipes.use({ recipeHash: chosen.hash, remember: false })
    const campaign = await campaignNamed(core, options.campaign, options.display)
    const { setting, refresh: refreshHz } = options
    const summary = await core.files.importCommit(
      { campaignId: campaign.id, setting, refreshHz, files: read },
      abort.signal,
    )
    const all = [...problems, ...summary.problems.map(({ name, problem }) => ({ name, problem }))]
    const report = await sweepReport(store, summary.sweepId, chosen)
    output.result({ ...report.json, captures: summary.captures, problems: all }, () =>
      [
        `${summary.captures} of ${files.length} recordings are stored as sweep ${summary.sweepId} of campaign ${campaign.id} “${campaign.name}”.`,
        ...all.map(
          ({ name, problem }) => `Left out or doubtful: ${problem.startsWith(name) ? problem : `${name}: ${problem}`}`,
        ),
        '',
        report.text,
      ].join('\n'),
    )
    return all.length > 0 ? EXIT.incomplete : EXIT.done
  } finally {
    release()
    await opened.close()
  }
}

/** Texts with their mapping, levels and repeat number; what cannot be read is named. Rejects when nothing can. */
async function readFiles(
  files: readonly string[],
  options: ImportOptions,
): Promise<{ read: ImportFile[]; problems: { name: string; problem: string }[] }> {
  const { from, to, interval, timeUnit } = options
  if ((from === undefined) !== (to === undefined))
    throw new AppError('invalid-input', 'Only one of --from and --to is given.', 'Give both levels or none.')
  const read: ImportFile[] = []
  const problems: { name: string; problem: string }[] = []
  const taken = new Set<string>()
  let firstError: unknown = null
  for (const name of files) {
    try {
      const pair = from !== undefined && to !== undefined ? { from, to } : pairFromName(name)
      if (pair === null)
        throw new AppError(
          'import-unreadable',
          `${name}: the name does not say which levels it is about.`,
          'Rename it, for example to 0-255.csv, or give --from and --to.',
        )
      const text = await readText(name)
      const guess = guessMapping(text)
      const mapping = timeUnit === undefined ? guess.mapping : { ...guess.mapping, timeScaleS: TIME_SCALES[timeUnit] }
      read.push({
        name,
        text,
        mapping: interval === undefined ? mapping : { ...mapping, timeColumn: null, sampleIntervalS: interval },
        ...pair,
        repeat: freeRepeat(pair, repeatFromName(name), taken),
      })
    } catch (error) {
      firstError ??= error
      problems.push({ name, problem: toErrorDetail(error).message })
    }
  }
  if (read.length === 0) throw firstError
  return { read, problems }
}

/** The repeat number a name gives, or the next that is free for the pair. */
function freeRepeat(pair: { from: number; to: number }, wanted: number | null, taken: Set<string>): number {
  const key = (repeat: number): string => `${pair.from} ${pair.to} ${repeat}`
  let repeat = wanted ?? 1
  while (taken.has(key(repeat))) repeat += 1
  taken.add(key(repeat))
  return repeat
}
