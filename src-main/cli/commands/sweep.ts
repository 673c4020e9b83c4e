import type { Command } from 'commander'
import { AppError } from '#shared/domain/errors.ts'
import type { Sweep } from '#shared/domain/capture.ts'
import type { RigTarget } from '#shared/domain/rig.ts'
import type { SweepPlan } from '#shared/domain/plan.ts'
import type { SweepProgress } from '#shared/domain/views.ts'
import { createExporter } from '#main/export/exporter.ts'
import { writeExport } from '#main/export/file.ts'

import { campaignNamed } from '../campaigns.ts'
import { chooseRecipe, type KnownRecipe } from '../choose-recipe.ts'
import { EXIT, type ExitCode } from '../exit-codes.ts'
import type { CliCore, CliHost, CliProcess } from '../host.ts'
import { addCampaignOptions, addRunningOptions, idOption } from '../options.ts'
import { openForLight } from '../open-rig.ts'
import type { Output } from '../output.ts'
import {
  addPlanOptions,
  addRigOptions,
  addStimulusOption,
  planOf,
  rigTargetOf,
  type PlanOptions,
  type RigOptions,
} from '../plan-options.ts'
import { sweepReport } from '../sweep-report.ts'
import { followSweep } from '../sweep-run.ts'

export interface SweepOptions extends PlanOptions, RigOptions {
  readonly archive: string
  readonly campaign: string
  readonly display: string
  readonly recipe: string
  readonly stimulus?: 'sim' | 'page' | 'socket'
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
  const target = rigTargetOf(options)
  const stimulus = stimulusOf(options, target)
  const plan = options.resume === undefined ? planOf(options) : null
  const recipe = await chooseRecipe(options.recipe).catch(() => null)
  const opened = await openForLight(host, options, target, stimulus, output)
  try {
    return await sweepWith(opened, { options, target, stimulus, plan, recipe }, process, output)
  } finally {
    await opened.close()
  }
}

interface SweepRequest {
  readonly options: SweepOptions
  readonly target: RigTarget
  readonly stimulus: 'simulated' | 'page'
  /** null: resume. */
  readonly plan: SweepPlan | null
  /** A preset or a file; null: one of the archive's own. */
  readonly recipe: KnownRecipe | null
}

/** The simulated display where there is one, else a page on a real screen. */
export function stimulusOf({ stimulus }: Pick<SweepOptions, 'stimulus'>, target: RigTarget): 'simulated' | 'page' {
  const driven = target.kind === 'simulated' || target.controlPath !== undefined
  if (stimulus === 'page' || (stimulus === undefined && !driven)) return 'page'
  if (!driven)
    throw new AppError(
      'invalid-input',
      'A rig on a serial port has no simulated display unless its control socket is given.',
      'Give --control SOCKET, or use --stimulus page.',
    )
  if (stimulus === 'socket' && target.kind === 'simulated')
    throw new AppError('invalid-input', 'The embedded simulated rig has no control socket.', 'Use --stimulus sim.')
  return 'simulated'
}

async function sweepWith(
  opened: CliCore,
  request: SweepRequest,
  process: CliProcess,
  output: Output,
): Promise<ExitCode> {
  const { core, store } = opened
  const { options, target, stimulus, plan } = request
  const recipe = request.recipe ?? (await chooseRecipe(options.recipe, await core.recipes.list()))
  await core.recipes.save(recipe.recipe)
  await core.recipes.use({ recipeHash: recipe.hash, remember: false })
  await core.rig.connect(target)
  const { identity } = core.system.state().rig
  if (identity) output.note(`Rig: ${identity.manufacturer} ${identity.model}, serial ${identity.serial}`)
  await core.stimulus.use({ kind: stimulus })
  // Without a screen nothing flashes; with one the operator has acknowledged the warning by an option.
  await core.system.acknowledgeWarning({ understood: true })
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
        ...(written === null ? [] : ['', `${written.path}: ${written.done} rows`]),
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
    `${check.captures} captures of ${check.transitions} transitions, about ${duration(check.estimatedS / options.speed)}, ` +
      `${((check.captures * check.bytesPerCapture) / 1e6).toFixed(1)} MB of samples.`,
  )
  const sweep = await core.sweeps.create({ campaignId: campaign.id, plan })
  output.note(`Sweep ${sweep.id} of campaign ${campaign.id} “${campaign.name}”.`)
  return sweep
}

/** Waits until the stimulus page is open in full screen on the display under test, or the operator gives up. */
export async function pageAttached(
  { core, stimulusUrl }: CliCore,
  resume: string,
  process: CliProcess,
  output: Output,
): Promise<void> {
  const there = (): boolean => {
    const { connected, fullScreen } = core.system.state().stimulus
    return connected && fullScreen
  }
  if (there()) return
  output.note(`Open this page on the display under test and make it full screen: ${stimulusUrl ?? ''}`)
  await new Promise<void>((resolve, reject) => {
    const stopWatching = core.system.watch(() => {
      if (there()) done(resolve)
    })
    const release = process.onInterrupt(() =>
      done(() =>
        reject(
          new AppError(
            'cancelled',
            'Waiting for the stimulus page was given up.',
            `When the page can be opened: ${resume}`,
          ),
        ),
      ),
    )
    function done(then: () => void): void {
      stopWatching()
      release()
      then()
    }
  })
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

const two = (n: number): string => String(n).padStart(2, '0')

/** `0:32 min`, `1:05:00 h`. */
export function duration(seconds: number): string {
  const whole = Math.max(0, Math.round(seconds))
  const [hours, minutes, rest] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60]
  return hours > 0 ? `${hours}:${two(minutes)}:${two(rest)} h` : `${minutes}:${two(rest)} min`
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
