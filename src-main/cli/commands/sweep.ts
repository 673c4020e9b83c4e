import type { Command } from 'commander'
import type { Sweep } from '#shared/domain/capture.ts'
import type { SweepPlan } from '#shared/domain/plan.ts'
import { duration, plural } from '#shared/domain/quantity-text.ts'
import type { SweepProgress } from '#shared/domain/views.ts'
import { createExporter } from '#main/export/exporter.ts'
import { writeExport } from '#main/export/file.ts'
import { campaignNamed } from '../campaigns.ts'
import { chooseRecipe, type KnownRecipe } from '../choose-recipe.ts'
import { EXIT, type ExitCode } from '../exit-codes.ts'
import type { CliCore, CliHost, CliProcess } from '../host.ts'
import { addCampaignOptions, addRunningOptions, idOption } from '../options.ts'
import { type LightCore, pageAttached, withLight } from '../open-rig.ts'
import type { Output } from '../output.ts'
import {
  addPlanOptions,
  addRigOptions,
  addStimulusOption,
  planOf,
  type PlanOptions,
  type RigOptions,
  type StimulusOption,
} from '../plan-options.ts'
import { sweepReport } from '../sweep-report.ts'
import { followSweep } from '../sweep-run.ts'

export interface SweepOptions extends PlanOptions, RigOptions {
  readonly archive: string
  readonly campaign: string
  readonly display: string
  readonly recipe: string
  readonly stimulus?: StimulusOption
  readonly out?: string
  readonly resume?: number
  readonly speed: number
  readonly iUnderstandFlashing?: boolean
}

export function describeSweep(command: Command): Command {
  command.description('run a whole sweep: every transition between the levels, repeated, measured and stored')
  addRigOptions(addPlanOptions(command)).optionsGroup('Campaign and recipe:')
  addCampaignOptions(command, 'Bench')
  addStimulusOption(command)
    .optionsGroup('Output and running:')
    .option('--out <file>', 'write the matrix as CSV when done')
    .option('--resume <id>', 'resume a paused sweep, or retake what was sent back; its own plan is used', idOption)
  return addRunningOptions(command).addHelpText(
    'after',
    `
Examples:
  slewlight sweep --setting Gentle --refresh 144 --levels 0,128,255 --repeats 5
  slewlight sweep --rig /dev/ttyACM0 --stimulus page --i-understand-flashing --refresh 144 --campaign "Panel A"
  slewlight sweep --rig /tmp/rig --control /tmp/rig.sock --stimulus socket --out matrix.csv
  slewlight sweep --resume 3

Progress and time left are on standard error. Ctrl-C pauses after the capture in hand and says how to go on; a second
one stops at once. Every finished capture is kept. A rig that is lost is waited for.`,
  )
}

export async function runSweepCommand(
  options: SweepOptions,
  host: CliHost,
  process: CliProcess,
  output: Output,
): Promise<ExitCode> {
  const plan = options.resume === undefined ? planOf(options) : null
  const recipe = await chooseRecipe(options.recipe).catch(() => null)
  return withLight(host, options, output, plan !== null, (opened) =>
    sweepWith(opened, { options, plan, recipe }, process, output),
  )
}

interface SweepRequest {
  readonly options: SweepOptions
  /** null: resume. */
  readonly plan: SweepPlan | null
  /** A preset or a file; null: one of the archive's own. */
  readonly recipe: KnownRecipe | null
}

async function sweepWith(
  opened: LightCore,
  request: SweepRequest,
  process: CliProcess,
  output: Output,
): Promise<ExitCode> {
  const { core, store, stimulus } = opened
  const { options, plan } = request
  const recipe = request.recipe ?? (await chooseRecipe(options.recipe, await core.recipes.list()))
  await core.recipes.save(recipe.recipe)
  await core.recipes.use({ recipeHash: recipe.hash, remember: false })
  const { identity } = core.system.state().rig
  if (identity) output.note(`Rig: ${identity.manufacturer} ${identity.model}, serial ${identity.serial}`)
  const sweep = await sweepToRun(core, request, output)
  if (stimulus === 'page') await pageAttached(opened, resumeLine(options, sweep.id), process, output)

  const begin = plan === null ? core.sweeps.resume : core.sweeps.start
  const ended = await followSweep(
    core,
    sweep.id,
    () => begin({ sweepId: sweep.id }),
    process,
    output,
    (progress) => output.progress(progressText(progress), progressJson(progress)),
  )
  output.progressEnd()
  const report = await sweepReport(store, sweep.id, recipe)
  const written =
    options.out === undefined
      ? null
      : await writeExport(
          options.out,
          await createExporter(store).table({ what: 'matrix', sweepId: sweep.id, recipeHash: recipe.hash }),
        )
  const resume = ended === 'paused' ? resumeLine(options, sweep.id) : null
  output.result(
    { ...report.json, resume, written: written && { path: written.path, rows: written.done, bytes: written.bytes } },
    () =>
      [
        report.text,
        ...(written === null ? [] : ['', `${written.path}: ${plural(written.done, 'row')}`]),
        ...(resume === null ? [] : ['', `To resume: ${resume}`]),
      ].join('\n'),
  )
  if (ended === 'paused') return EXIT.paused
  return report.sweep.missing > 0 || report.sweep.done < report.sweep.total ? EXIT.incomplete : EXIT.done
}

async function sweepToRun(core: CliCore['core'], { options, plan }: SweepRequest, output: Output): Promise<Sweep> {
  if (plan === null) return core.sweeps.get({ sweepId: options.resume as number })
  const campaign = await campaignNamed(core, options.campaign, options.display)
  const check = await core.sweeps.check({ plan })
  output.note(
    `${plural(check.captures, 'capture')} of ${plural(check.transitions, 'transition')}, about ${duration(check.estimatedS / options.speed)}, ` +
      `${((check.captures * check.bytesPerCapture) / 1e6).toFixed(1)} MB of samples.`,
  )
  const sweep = await core.sweeps.create({ campaignId: campaign.id, plan })
  output.note(`Sweep ${sweep.id} of campaign ${campaign.id} “${campaign.name}”.`)
  return sweep
}

const quoted = (text: string): string => (/^[\w./:@-]+$/.test(text) ? text : JSON.stringify(text))

/** The command that takes up this sweep, with the options that say which rig it runs on. */
function resumeLine(options: SweepOptions, sweepId: number): string {
  return [
    `slewlight sweep --resume ${sweepId} --archive ${quoted(options.archive)} --rig ${quoted(options.rig)}`,
    ...(options.rig === 'sim'
      ? [`--panel ${options.panel} --backlight ${options.backlight} --seed ${options.seed}`]
      : [`--baud ${options.baud}`]),
    ...(options.control === undefined ? [] : [`--control ${quoted(options.control)}`]),
    ...(options.stimulus === undefined ? [] : [`--stimulus ${options.stimulus}`]),
    ...(options.iUnderstandFlashing === true ? ['--i-understand-flashing'] : []),
  ].join(' ')
}

function progressText({ state, done, missing, total, retakes, leftS, current }: SweepProgress): string {
  const parts = [
    state === 'ladder' ? 'measuring the ladder' : `${done} of ${total} captures`,
    ...(missing > 0 ? [`${missing} missing`] : []),
    ...(retakes > 0 ? [`${retakes} retaken`] : []),
    ...(current === null ? [] : [`${current.from} → ${current.to} (repeat ${current.repeat})`]),
    ...(leftS === null ? [] : [`${duration(leftS)} left`]),
  ]
  return parts.join(', ')
}

const progressJson = ({
  state,
  done,
  missing,
  total,
  retakes,
  elapsedS,
  leftS,
}: SweepProgress): Record<string, unknown> => ({
  state,
  captures_done: done,
  captures_missing: missing,
  captures_total: total,
  retakes,
  elapsed_s: elapsedS,
  left_s: leftS,
})
