import { readFile } from 'node:fs/promises'
import type { Command } from 'commander'
import { planOfFile, visitsOf, type CampaignPlan } from '#shared/domain/campaign-plan.ts'
import { parseChangeCommand } from '#shared/domain/change-command.ts'
import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import { fileProblems } from '#shared/domain/file-problems.ts'
import { leftInAll, type RunAnswer, type RunProgress, type RunQuestion } from '#shared/domain/run.ts'
import type { Core } from '#main/core/facade.ts'
import { duration, hertz, plural } from '#shared/domain/quantity-text.ts'
import { campaignNamed } from '../campaigns.ts'
import { chooseRecipe } from '../choose-recipe.ts'
import { EXIT, type ExitCode } from '../exit-codes.ts'
import type { CliHost, CliProcess } from '../host.ts'
import { addCampaignOptions, addRunningOptions, idOption } from '../options.ts'
import type { Output } from '../output.ts'
import {
  addRunChangeOptions,
  changeRun,
  hasRunChanges,
  sweepLine,
  sweepsOfRun,
  type RunChangeOptions,
} from './run-changes.ts'
import { addRigOptions, rigTargetOf, type RigOptions } from '../plan-options.ts'
import { FLASH_WARNING } from '../open-rig.ts'

export interface CampaignRunOptions extends RigOptions, RunChangeOptions {
  readonly archive: string
  readonly campaign: string
  readonly display: string
  readonly recipe: string
  readonly change?: string
  readonly ask?: boolean
  readonly resume?: number
  readonly speed: number
  readonly iUnderstandFlashing?: boolean
}

export function describeCampaignRun(command: Command): Command {
  command
    .description('work through settings × refresh rates as one run, unattended')
    .argument('[plan]', 'plan as JSON: settings, refreshHz, and what differs from the usual sweep under "sweep"')
  addCampaignOptions(addRigOptions(command), 'Campaign')
  command
    .option(
      '--change <command>',
      'program that sets the display, run without a shell: its whole path, then arguments with {setting} and {refresh}',
    )
    .option(
      '--ask',
      'ask on the terminal for each setting of the simulated display too; a real one is asked for anyway',
    )
    .option('--resume <id>', 'resume a run that waits, or change a finished one', idOption)
  return addRunningOptions(addRunChangeOptions(command)).addHelpText(
    'after',
    `
Examples:
  slewlight campaign-run plan.json --campaign "Panel A" --display "Panel A" --speed 20
  slewlight campaign-run plan.json --rig /dev/ttyACM0 --change '/usr/local/bin/set-display {setting} {refresh}' --i-understand-flashing

  slewlight campaign-run --resume 3 --skip Strong@144 --retake Off@60

plan.json: {"settings": ["Off", "Gentle", "Strong"], "refreshHz": [60, 120, 144], "sweep": {"repeats": 5}}

The simulated display follows the plan by itself. After each change the refresh rate is compared with the plan and four
transitions with earlier visits; a display that did not change, or is not as before, stops the run. Ctrl-C pauses it.`,
  )
}

async function planFrom(path: string): Promise<CampaignPlan> {
  let read: unknown
  try {
    read = JSON.parse(await readFile(path, 'utf8'))
  } catch (error) {
    throw new AppError('import-unreadable', `${path} cannot be read as JSON: ${(error as Error).message}`)
  }
  const parsed = planOfFile(read)
  if (!parsed.success) throw new AppError('invalid-input', `The plan is not possible: ${fileProblems(parsed.error)}`)
  return parsed.data
}

export async function runCampaignRun(
  path: string | undefined,
  options: CampaignRunOptions,
  host: CliHost,
  process: CliProcess,
  output: Output,
): Promise<ExitCode> {
  const target = rigTargetOf(options)
  const change = options.change === undefined ? null : parseChangeCommand(options.change)
  if (path === undefined && options.resume === undefined)
    throw new AppError('invalid-input', 'There is no plan.', 'Give a plan file, or --resume with the number of a run.')
  if (path !== undefined && options.resume !== undefined)
    throw new AppError(
      'invalid-input',
      'A run that is resumed has its plan already.',
      'Leave the plan file out, or leave --resume out to begin a new run.',
    )
  if (options.resume === undefined && hasRunChanges(options))
    throw new AppError(
      'invalid-input',
      'Sweeps are skipped and taken again in a run that exists.',
      'Give --resume too.',
    )
  if (options.resume !== undefined && !options.start) return changeOnly(options.resume, options, host, output)
  const ask = change === null && (target.kind !== 'simulated' || options.ask === true)
  if (ask && process.typed == null)
    throw new AppError(
      'invalid-input',
      'The display’s setting has to be changed between sweeps, and nobody can be asked here: standard input is not a terminal.',
      'Give --change, start it from a terminal, or run the campaign from the application.',
    )
  output.note(FLASH_WARNING)
  if (target.kind !== 'simulated' && options.iUnderstandFlashing !== true)
    throw new AppError(
      'conflict',
      'The warning about flashing light has not been acknowledged.',
      'Add --i-understand-flashing.',
    )
  const plan = path === undefined ? null : await planFrom(path)
  const opened = await host.openCore({
    archive: options.archive,
    stimulusPage: false,
    speed: options.speed,
    create: options.resume === undefined,
    change: ask ? 'ask' : change,
  })
  const { core } = opened
  const release = process.onInterrupt(() => {
    const { run } = core.system.state()
    if (run !== null) core.runs.pause({ runId: run.runId }).catch(() => undefined)
  })
  const asking = new AbortController()
  const asked = createAsking(core, process, output, asking.signal)
  const stopWatching = core.system.watch((event) => {
    if (event.kind === 'state') asked(event.state.run)
    if (event.kind === 'log' && event.entry.level !== 'info') output.note(event.entry.text)
    if (event.kind !== 'state' || event.state.run === null) return
    const { index, total, visit, phase } = event.state.run
    const { sweep } = event.state
    const leftS = leftInAll(event.state.run, sweep)
    const at = visit === null ? '' : ` ${visit.setting} at ${hertz(visit.refreshHz)} Hz`
    const captures =
      phase === 'sweeping' && sweep !== null ? `, ${sweep.done} of ${sweep.total} captures` : `, ${phase}`
    const left = leftS === null ? '' : `, about ${duration(leftS / options.speed)} left in all`
    output.progress(`sweep ${index + 1} of ${total}:${at}${captures}${left}`, { index, total, phase, left_s: leftS })
  })
  try {
    const recipe = await chooseRecipe(options.recipe, await core.recipes.list())
    await core.recipes.save(recipe.recipe)
    await core.recipes.use({ recipeHash: recipe.hash, remember: false })
    await core.rig.connect(target)
    await core.system.acknowledgeWarning({ understood: true })
    let runId = options.resume ?? 0
    if (plan !== null && options.resume === undefined) {
      const campaign = await campaignNamed(core, options.campaign, options.display)
      runId = (await core.runs.create({ campaignId: campaign.id, plan })).id
      output.note(
        `Run ${runId} of campaign ${campaign.id} “${campaign.name}”: ${plural(visitsOf(plan).length, 'sweep')}.`,
      )
    }
    if (options.resume !== undefined) await changeRun(core, await opened.store.run({ runId }), options)
    await core.runs.start({ runId })
    await core.runner.idle()
    output.progressEnd()
    const run = await opened.store.run({ runId })
    const sweeps = await Promise.all(run.sweepIds.map((sweepId) => opened.store.sweep({ sweepId })))
    const skipped = sweeps.filter(({ state }) => state === 'stopped').length
    const missing = sweeps.reduce((sum, sweep) => sum + sweep.missing, 0)
    const json = {
      run_id: run.id,
      campaign_id: run.campaignId,
      state: run.state,
      reason: run.reason,
      sweep_ids: run.sweepIds,
      sweeps_skipped: skipped,
      captures_missing: missing,
    }
    const lacks = [
      ...(skipped === 0 ? [] : [`${plural(skipped, 'sweep')} skipped`]),
      ...(missing === 0 ? [] : [`${plural(missing, 'capture')} missing`]),
    ]
    output.result(json, () =>
      run.state === 'finished'
        ? `Run ${run.id} is finished${lacks.length === 0 ? '' : `, ${lacks.join(', ')}`}. Findings: slewlight findings ${run.campaignId}`
        : `Run ${run.id} is ${run.state}: ${run.reason} To resume: slewlight campaign-run --resume ${run.id}`,
    )
    if (run.state !== 'finished') return EXIT.paused
    return lacks.length === 0 ? EXIT.done : EXIT.incomplete
  } finally {
    asking.abort()
    release()
    stopWatching()
    await opened.close()
  }
}

async function changeOnly(
  runId: number,
  options: CampaignRunOptions,
  host: CliHost,
  output: Output,
): Promise<ExitCode> {
  const opened = await host.openCore({ archive: options.archive, stimulusPage: false, speed: 1, create: false })
  try {
    await changeRun(opened.core, await opened.store.run({ runId }), options)
    const run = await opened.store.run({ runId })
    const sweeps = await sweepsOfRun(opened.core, run)
    output.result(
      {
        run_id: run.id,
        campaign_id: run.campaignId,
        state: run.state,
        sweeps: sweeps.map(({ id, setting, refreshHz, state, done, missing, total, hidden }) => ({
          sweep_id: id,
          setting,
          refresh_hz: refreshHz,
          state,
          done,
          missing,
          total,
          hidden,
        })),
      },
      () => [`Run ${run.id} is ${run.state}.`, ...sweeps.map(sweepLine)].join('\n'),
    )
    return EXIT.done
  } finally {
    await opened.close()
  }
}

const KEYS = { again: 'Enter: done', accept: 'a: they are alike, go on', skip: 's: leave this one out' } as const
const BY_LETTER: Readonly<Record<string, RunAnswer>> = { '': 'again', a: 'accept', s: 'skip' }

/** Puts each question of a run to the person at the terminal, once, until it is answered; `q` pauses the run. */
function createAsking(
  core: Core,
  process: CliProcess,
  output: Output,
  signal: AbortSignal,
): (run: RunProgress | null) => void {
  let open: RunQuestion | null = null
  const put = async (runId: number, question: RunQuestion): Promise<void> => {
    output.progressEnd()
    const choices = [...question.answers.map((answer) => KEYS[answer]), 'q: pause the run']
    output.note(`${question.instruction}. ${question.reason}`.trim())
    for (;;) {
      output.note(`Then type – ${choices.join(', ')}`)
      const line = await process.typed?.(signal)
      if (signal.aborted || open !== question) return
      const letter = line?.trim().toLowerCase()
      const answer = letter === undefined ? undefined : BY_LETTER[letter]
      if (line == null || letter === 'q') {
        await core.runs.pause({ runId })
        return
      }
      if (answer !== undefined && question.answers.includes(answer)) {
        open = null
        await core.runs.answer({ runId, answer })
        return
      }
    }
  }
  return (run) => {
    const question = run?.question ?? null
    if (run === null || question === null || question === open || process.typed == null) return
    open = question
    put(run.runId, question).catch((error: unknown) => output.note(toErrorDetail(error).message))
  }
}
