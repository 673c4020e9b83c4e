import type { Command } from 'commander'
import { SIM_SETTINGS, simulationSchema, type SimSetting } from '#shared/domain/rig.ts'
import { createClock } from '#main/platform/clock.ts'
import { integerOption, numberOption, oneOf } from '../options.ts'
import type { Output } from '../output.ts'
import { addSimulationOptions, simulationOf, type RigOptions } from '../plan-options.ts'

export interface RigSimCommandOptions extends Omit<RigOptions, 'rig' | 'baud'> {
  readonly pty: string
  readonly eye?: string
  readonly baud?: number
  readonly refresh?: number
  readonly setting?: SimSetting
}

export function describeRigSim(command: Command): Command {
  command.description('a simulated rig on a pseudo-terminal, spoken to like a real one')
  addSimulationOptions(command)
  return command
    .requiredOption('--pty <path>', 'where the link to the terminal appears')
    .option(
      '--baud <n>',
      'send as slowly as a line of this rate (default: as fast as the terminal takes it)',
      integerOption(300, 12_000_000),
    )
    .option('--eye <place>', 'look at a virtual screen instead of being told levels: xvfb:FILE,x,y,size')
    .option('--refresh <hz>', 'refresh rate of the simulated display', numberOption(10, 1000))
    .option('--setting <label>', `overdrive setting: ${SIM_SETTINGS.join(', ')}`, oneOf(SIM_SETTINGS))
    .option('--seed <n>', 'seed of noise and panel', integerOption(0, 0xffffffff), 1)
    .addHelpText(
      'after',
      `
Example:
  slewlight rig-sim --pty /tmp/rig --control /tmp/rig.sock --panel dusk &
  slewlight sweep --rig /tmp/rig --control /tmp/rig.sock --stimulus socket

It serves until Ctrl-C. The control socket takes levels for the simulated display and faults (unplug, stall, …).`,
    )
}

export async function runRigSimCommand(options: RigSimCommandOptions, output: Output): Promise<void> {
  const [{ parseEye }, { runRigSim }] = await Promise.all([
    import('#main/rig/simulated/eye/xvfb.ts'),
    import('#main/rig/simulated/rig-sim.ts'),
  ])
  await runRigSim({
    ptyPath: options.pty,
    simulation: simulationSchema.parse(simulationOf(options)),
    clock: createClock(),
    log: (line) => output.note(line),
    ...(options.control === undefined ? {} : { controlPath: options.control }),
    ...(options.eye === undefined ? {} : { eye: parseEye(options.eye) }),
    ...(options.baud === undefined ? {} : { baudRate: options.baud }),
    ...(options.refresh === undefined ? {} : { refreshHz: options.refresh }),
    ...(options.setting === undefined ? {} : { setting: options.setting }),
  })
}
