/** What a person changes in a run from the command line, before it goes on: sweeps named as `Strong@144`. */
import { InvalidArgumentError, type Command } from 'commander'
import type { Visit } from '#shared/domain/campaign-plan.ts'
import type { Sweep } from '#shared/domain/capture.ts'
import { AppError } from '#shared/domain/errors.ts'
import { hertz } from '#shared/domain/quantity-text.ts'
import type { Run } from '#shared/domain/run.ts'
import type { Core } from '#main/core/facade.ts'

export interface RunChangeOptions {
  readonly skip?: readonly Visit[]
  readonly unskip?: readonly Visit[]
  readonly retake?: readonly Visit[]
  readonly restore?: readonly Visit[]
  /** False with --no-start. */
  readonly start: boolean
}

function visitOption(text: string, before: readonly Visit[] = []): readonly Visit[] {
  const at = text.lastIndexOf('@')
  const refreshHz = Number(text.slice(at + 1))
  if (at < 1 || !(refreshHz > 0))
    throw new InvalidArgumentError('Name a sweep by setting and refresh rate, such as Strong@144.')
  return [...before, { setting: text.slice(0, at), refreshHz }]
}

export function addRunChangeOptions(command: Command): Command {
  return command
    .option('--skip <sweep>', 'leave a sweep of the resumed run out, such as Strong@144; may be repeated', visitOption)
    .option('--unskip <sweep>', 'take a skipped sweep after all; it goes on with what it lacks', visitOption)
    .option('--retake <sweep>', 'take a sweep again; the earlier one is hidden and kept', visitOption)
    .option('--restore <sweep>', 'bring the hidden sweep taken before back; the one that stands is hidden', visitOption)
    .option('--no-start', 'only these changes: nothing is captured, and the sweeps of the run are listed')
}

export const hasRunChanges = ({ skip, unskip, retake, restore, start }: RunChangeOptions): boolean =>
  !start || [skip, unskip, retake, restore].some((one) => one !== undefined)

/** Makes the changes in the order skip, unskip, retake, restore. Throws `not-found` for a sweep the run has not. */
export async function changeRun(core: Core, run: Run, options: RunChangeOptions): Promise<void> {
  const sweepsNow = async (): Promise<Sweep[]> =>
    (await core.sweeps.list({ campaignId: run.campaignId, includeHidden: true })).filter(
      ({ runId }) => runId === run.id,
    )
  const of = async ({ setting, refreshHz }: Visit, hidden: boolean): Promise<{ runId: number; sweepId: number }> => {
    const found = (await sweepsNow()).findLast(
      (sweep) => sweep.setting === setting && sweep.refreshHz === refreshHz && sweep.hidden === hidden,
    )
    if (found === undefined)
      throw new AppError(
        'not-found',
        `Run ${run.id} has no ${hidden ? 'hidden ' : ''}sweep of ${setting} at ${hertz(refreshHz)} Hz.`,
        `Its sweeps: slewlight campaign-run --resume ${run.id} --no-start`,
      )
    return { runId: run.id, sweepId: found.id }
  }
  for (const visit of options.skip ?? []) await core.runs.skip(await of(visit, false))
  for (const visit of options.unskip ?? []) await core.runs.unskip(await of(visit, false))
  for (const visit of options.retake ?? []) await core.runs.retake(await of(visit, false))
  for (const visit of options.restore ?? []) await core.runs.restore(await of(visit, true))
}

/** The sweeps of a run in the order of its plan, earlier takes after those that stand. */
export async function sweepsOfRun(core: Core, run: Run): Promise<Sweep[]> {
  const all = (await core.sweeps.list({ campaignId: run.campaignId, includeHidden: true })).filter(
    ({ runId }) => runId === run.id,
  )
  const [now] = (await core.runs.list({ campaignId: run.campaignId })).filter(({ id }) => id === run.id)
  const standing = (now?.sweepIds ?? []).flatMap((id) => all.filter((sweep) => sweep.id === id))
  return [...standing, ...all.filter(({ hidden }) => hidden)]
}

export const sweepLine = ({ id, setting, refreshHz, state, done, total, hidden }: Sweep): string =>
  `  ${setting}@${refreshHz}: sweep ${id}, ${state === 'stopped' ? 'skipped' : state}, ${done} of ${total} captures${hidden ? ', hidden' : ''}`
