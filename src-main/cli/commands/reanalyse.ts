import { plural } from '#shared/domain/quantity-text.ts'
import type { Command } from 'commander'
import { AppError } from '#shared/domain/errors.ts'
import { chooseRecipe } from '../choose-recipe.ts'
import { EXIT, type ExitCode } from '../exit-codes.ts'
import type { CliCore, CliHost, CliProcess } from '../host.ts'
import { idOption } from '../options.ts'
import { followJob } from '../job.ts'
import type { Output } from '../output.ts'

export interface ReanalyseOptions {
  readonly archive: string
  readonly recipe: string
  readonly campaign?: number
  readonly sweep?: number
}

export function describeReanalyse(command: Command): Command {
  return command
    .description('measure every stored capture that has no result under a recipe yet')
    .requiredOption('--recipe <recipe>', 'name, hash or JSON file; a new one is added to the archive')
    .option('--campaign <id>', 'captures of this campaign only', idOption)
    .option('--sweep <id>', 'captures of this sweep only', idOption)
    .addHelpText(
      'after',
      `
Examples:
  slewlight reanalyse --recipe "2 L*"
  slewlight reanalyse --recipe mine.json --sweep 3

Results are only added, so it can be stopped by Ctrl-C at any time and started again: it goes on where it was.`,
    )
}

export async function runReanalyse(
  options: ReanalyseOptions,
  host: CliHost,
  process: CliProcess,
  output: Output,
): Promise<ExitCode> {
  const opened = await host.openCore({ archive: options.archive, stimulusPage: false, speed: 1, create: false })
  try {
    return await reanalyseWith(opened, options, process, output)
  } finally {
    await opened.close()
  }
}

async function reanalyseWith(
  { core, store }: CliCore,
  options: ReanalyseOptions,
  process: CliProcess,
  output: Output,
): Promise<ExitCode> {
  const chosen = await chooseRecipe(options.recipe, await core.recipes.list())
  const { hash } = await core.recipes.save(chosen.recipe)
  const scope = {
    ...(options.campaign === undefined ? {} : { campaignId: options.campaign }),
    ...(options.sweep === undefined ? {} : { sweepId: options.sweep }),
  }
  // A number that is not there would otherwise look like work that is done.
  if (options.sweep !== undefined) await core.sweeps.get({ sweepId: options.sweep })
  if (options.campaign !== undefined && !(await core.campaigns.list()).some(({ id }) => id === options.campaign))
    throw new AppError('not-found', `There is no campaign ${options.campaign}.`, 'See `slewlight show campaigns`.')
  const before = (await store.unmeasured(hash, scope)).length
  const ended = await followJob(
    core,
    () => core.recipes.reanalyse({ recipeHash: hash, ...scope }),
    'captures',
    process,
    output,
  )
  const left = (await store.unmeasured(hash, scope)).length
  output.progressEnd()
  if (ended.state === 'failed')
    throw new AppError('internal', ended.problem, 'Start it again; what was measured is kept.')
  output.result(
    { recipe_hash: hash, name: chosen.recipe.name, state: ended.state, measured: before - left, left },
    () =>
      `${plural(before - left, 'capture')} measured under “${chosen.recipe.name}” (${hash})${left > 0 ? `, ${left} left without a result` : ''}.` +
      (ended.state === 'cancelled' ? '\nStopped; run the same command to resume.' : ''),
  )
  if (ended.state === 'cancelled') return EXIT.paused
  return left > 0 ? EXIT.incomplete : EXIT.done
}
