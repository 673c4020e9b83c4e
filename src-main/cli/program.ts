/** The command line: one file per command, everything they share here. */
import { existsSync } from 'node:fs'
import { resolve } from 'node:path'
import { Command, CommanderError, Help } from 'commander'
import { AppError } from '#shared/domain/errors.ts'
import type { Store } from '#main/core/ports.ts'
import { describeCampaignRun, runCampaignRun, type CampaignRunOptions } from './commands/campaign.ts'
import type { SequenceId } from '#shared/domain/guided.ts'
import { describeGuide, runGuide, type GuideOptions } from './commands/guide.ts'
import {
  describeCompareDisplays,
  runCompareDisplays,
  type CompareDisplaysOptions,
} from './commands/compare-displays.ts'
import { describeCompare, runCompare, type CompareOptions } from './commands/compare-recipes.ts'
import { describeDemo, runDemo, type DemoOptions } from './commands/demo.ts'
import { describeExport, runExport, type EXPORTED, type ExportOptions } from './commands/export.ts'
import { describeImport, runImport, type ImportOptions } from './commands/import.ts'
import { describeLatency, runLatency, type LatencyOptions } from './commands/latency.ts'
import { describeMeasure, runMeasure, type MeasureOptions } from './commands/measure.ts'
import {
  describeBundle,
  describeFindings,
  describeReport,
  runBundle,
  runFindings,
  runReport,
  type BundleOptions,
  type PublishOptions,
  type ReportOptions,
} from './commands/publish.ts'
import { describeReanalyse, runReanalyse, type ReanalyseOptions } from './commands/reanalyse.ts'
import { addRecipe, describeRecipes, showRecipes, type RECIPE_ACTIONS } from './commands/recipes.ts'
import {
  describeRecord,
  readToRecord,
  runRecord,
  showKinds,
  type RecordAction,
  type RecordOptions,
} from './commands/record.ts'
import { describeReview, runReview, type ReviewAction, type ReviewOptions } from './commands/review.ts'
import { describeRigSim, runRigSimCommand, type RigSimCommandOptions } from './commands/rig-sim.ts'
import { describeSalvageCommand, runSalvage } from './commands/salvage.ts'
import { describeServe, serveArguments, type ServeOptions } from './commands/serve.ts'
import { describeShow, runShow, type SHOWN, type ShowOptions } from './commands/show.ts'
import { describeSweep, runSweepCommand, type SweepOptions } from './commands/sweep.ts'
import { describeVerify, runVerify } from './commands/verify.ts'
import { PRESETS } from './choose-recipe.ts'
import { EXIT, EXIT_HELP, type ExitCode } from './exit-codes.ts'
import type { CliHost, CliProcess } from './host.ts'
import { createOutput, reportError, type Output } from './output.ts'

/** Runs one command line and answers its exit code; never throws, never ends the process. */
export async function runCli(args: readonly string[], host: CliHost, process: CliProcess): Promise<ExitCode> {
  // Known before parsing, so that wrong options are reported in the asked form too.
  const json = args.includes('--json')
  const output = createOutput(process, json)
  const answer: { code: ExitCode } = { code: EXIT.done }
  const program = buildProgram({ host, process, output, answer })
  try {
    await program.parseAsync([...args], { from: 'user' })
    return answer.code
  } catch (error) {
    output.progressEnd()
    if (!(error instanceof CommanderError)) return reportError(process, json, error)
    if (error.exitCode === 0) return EXIT.done
    if (json) process.err(usageJson(error))
    return EXIT.usage
  }
}

const usageJson = (error: CommanderError): string =>
  `${JSON.stringify({
    error: {
      code: 'invalid-input',
      message: error.message.replace(/^error: /, ''),
      remedy: 'See --help.',
      exit_code: EXIT.usage,
    },
  })}\n`

/** How the commands stand in the help. */
const GROUPS: Readonly<Record<string, readonly string[]>> = {
  'Measure:': ['sweep', 'campaign-run', 'latency', 'guide', 'import'],
  'Campaigns and captures:': ['show', 'record', 'review', 'salvage'],
  'Analyse:': ['measure', 'recipes', 'reanalyse', 'compare-recipes', 'findings', 'compare-displays'],
  'Publish:': ['export', 'report', 'bundle', 'verify'],
  'Tools:': ['serve', 'demo', 'rig-sim'],
}

const groupOf = (name: string): string =>
  Object.entries(GROUPS).find(([, names]) => names.includes(name))?.[0] ?? 'Tools:'

const ARCHIVES = {
  none: '',
  there: 'archive to use, which must exist',
  made: 'archive to use; created if it does not exist',
} as const

interface Context {
  readonly host: CliHost
  readonly process: CliProcess
  readonly output: Output
  readonly answer: { code: ExitCode }
}

function buildProgram(context: Context): Command {
  const { host, process, output, answer } = context
  const program = new Command('slewlight')
  const usualHelp = new Help()
  program
    // An empty text or list as the default tells a person nothing.
    .configureHelp({
      optionDescription: (option) => usualHelp.optionDescription(option).replace(/ \(default: (?:""|\[\])\)$/, ''),
    })
    .description('Measures how fast a display changes: sweeps, results, exports.')
    .version(host.version, '--version', 'print the version')
    .helpOption('-h, --help', 'print this help')
    .showHelpAfterError('(see --help)')
    .exitOverride()
    .configureOutput({
      writeOut: (text) => process.out(text),
      // With --json the error is written as JSON instead.
      writeErr: (text) => {
        if (!output.json) process.err(text)
      },
    })
    .addHelpText('after', EXIT_HELP)

  /** A command with what all share; `archive`: whether it works on one, and makes one that is not there. */
  const add = (name: string, describe: (command: Command) => Command, archive: keyof typeof ARCHIVES): Command => {
    const command = describe(program.command(name).helpGroup(groupOf(name)))
    if (archive !== 'none')
      command.option('--archive <file>', ARCHIVES[archive], (path) => resolve(path), host.standardArchive)
    return command.option('--json', 'machine-readable answer on standard output').addHelpText('after', EXIT_HELP)
  }
  const withStore = async <T>(
    archive: string,
    use: 'look' | 'change',
    work: (store: Store) => Promise<T>,
  ): Promise<T> => {
    const store = await host.openStore(archive, use)
    try {
      return await work(store)
    } finally {
      await store.close()
    }
  }
  /** Aborts at an interrupt while the work lasts. */
  const interruptible = async <T>(work: (signal: AbortSignal) => Promise<T>): Promise<T> => {
    const abort = new AbortController()
    const release = process.onInterrupt(() => abort.abort())
    try {
      return await work(abort.signal)
    } finally {
      release()
    }
  }
  type Archived = { readonly archive: string }

  add('sweep', describeSweep, 'made').action(async (options: SweepOptions) => {
    answer.code = await runSweepCommand(options, host, process, output)
  })
  add('latency', describeLatency, 'made').action(async (campaign: string, options: LatencyOptions) => {
    answer.code = await runLatency(campaign, options, host, process, output)
  })
  add('guide', describeGuide, 'there').action(
    async (campaign: string, sequence: SequenceId | undefined, options: GuideOptions) => {
      answer.code = await runGuide(campaign, sequence, options, host, process, output)
    },
  )
  add('measure', describeMeasure, 'none').action(async (file: string, options: MeasureOptions) => {
    answer.code = await runMeasure(file, options, output)
  })
  add('import', describeImport, 'made').action(async (files: string[], options: ImportOptions) => {
    answer.code = await runImport(files, options, host, process, output)
  })
  add('show', describeShow, 'there').action(
    (what: (typeof SHOWN)[number], id: number | undefined, options: ShowOptions & Archived) =>
      withStore(options.archive, 'look', (store) => runShow(what, id, options, store, output)),
  )
  add('export', describeExport, 'there').action(
    (what: (typeof EXPORTED)[number], id: number, options: ExportOptions & Archived) =>
      withStore(options.archive, 'look', (store) =>
        interruptible((signal) => runExport(what, id, options, store, process, output, signal)),
      ),
  )
  add('review', describeReview, 'there').action(
    (action: ReviewAction, capture: number | undefined, text: string | undefined, options: ReviewOptions) =>
      runReview(action, capture, text, options, host, output),
  )
  add('record', describeRecord, 'there').action(
    async (
      action: RecordAction,
      campaign: string | undefined,
      kind: string | undefined,
      file: string | undefined,
      options: RecordOptions & Archived,
    ) => {
      if (action === 'kinds') return showKinds(output)
      if (campaign === undefined)
        throw new AppError('invalid-input', 'A campaign is needed.', 'See: slewlight show campaigns')
      if (action === 'read') {
        const opened = await host.openCore({ archive: options.archive, stimulusPage: false, speed: 1, create: false })
        try {
          return await readToRecord(campaign, kind, options, opened, output)
        } finally {
          await opened.close()
        }
      }
      return withStore(options.archive, action === 'add' ? 'change' : 'look', (store) =>
        runRecord(action, campaign, kind, file, options, store, output),
      )
    },
  )
  add('recipes', describeRecipes, 'there').action(
    (action: (typeof RECIPE_ACTIONS)[number], recipe: string | undefined, options: Archived) => {
      // The presets can be read before there is any archive.
      if (action !== 'add' && options.archive === host.standardArchive && !existsSync(options.archive))
        return showRecipes(action, recipe, PRESETS, output)
      return withStore(options.archive, action === 'add' ? 'change' : 'look', async (store) =>
        action === 'add'
          ? addRecipe(recipe, store, output)
          : showRecipes(action, recipe, await store.recipes(), output),
      )
    },
  )
  add('reanalyse', describeReanalyse, 'there').action(async (options: ReanalyseOptions) => {
    answer.code = await runReanalyse(options, host, process, output)
  })
  add('compare-recipes', describeCompare, 'there').action(
    async (a: string, b: string, options: CompareOptions & Archived) => {
      answer.code = await withStore(options.archive, 'look', (store) => runCompare(a, b, options, store, output))
    },
  )
  add('campaign-run', describeCampaignRun, 'made').action(
    async (plan: string | undefined, options: CampaignRunOptions) => {
      answer.code = await runCampaignRun(plan, options, host, process, output)
    },
  )
  add('findings', describeFindings, 'there').action((campaign: string, options: PublishOptions) =>
    runFindings(campaign, options, host, output),
  )
  add('report', describeReport, 'there').action((campaign: string, options: ReportOptions) =>
    runReport(campaign, options, host, output),
  )
  add('bundle', describeBundle, 'there').action((campaign: string, options: BundleOptions) =>
    runBundle(campaign, options, host, output),
  )
  add('compare-displays', describeCompareDisplays, 'none').action(
    async (archives: string[], options: CompareDisplaysOptions) => {
      answer.code = await interruptible((signal) => runCompareDisplays(archives, options, host, output, signal))
    },
  )
  add('verify', describeVerify, 'none').action(async (bundle: string) => {
    answer.code = await interruptible((signal) => runVerify(bundle, host, output, signal))
  })
  add('salvage', describeSalvageCommand, 'there').action(async ({ archive }: Archived) => {
    answer.code = await runSalvage(archive, host, output)
  })
  add('serve', describeServe, 'made').action((options: ServeOptions) => host.serve(serveArguments(options)))
  add('demo', describeDemo, 'none').action((options: DemoOptions) => runDemo(options, host, interruptible, output))
  add('rig-sim', describeRigSim, 'none').action((options: RigSimCommandOptions) => runRigSimCommand(options, output))
  return program
}
