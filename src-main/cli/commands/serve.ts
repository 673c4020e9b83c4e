import type { Command } from 'commander'
import { integerOption } from '../options.ts'

export interface ServeOptions {
  readonly archive?: string
  readonly rig: string
  readonly baud: number
  readonly port: number
  readonly salvage?: boolean
}

export function describeServe(command: Command): Command {
  return command
    .description('the application in a browser on this machine (loopback address only)')
    .option('--rig <what>', 'sim, none, or a serial port such as /dev/ttyACM0', 'sim')
    .option('--baud <n>', 'rate of the serial port', integerOption(300, 12_000_000), 115_200)
    .option('--port <n>', 'port; 0 for any free one', integerOption(0, 65_535), 0)
    .option('--salvage', 'set a damaged archive aside and copy what can be read into a new one')
    .addHelpText(
      'after',
      `
Example:
  slewlight serve --archive panels.sqlite --rig /dev/ttyACM0

It prints the address to open and serves until Ctrl-C.`,
    )
}

/** The same options in the words of the server's own entry. */
export function serveArguments({ archive, rig, baud, port, salvage }: ServeOptions): string[] {
  return [
    ...(archive === undefined ? [] : ['--archive', archive]),
    '--rig',
    rig === 'sim' ? 'simulated' : rig,
    '--baud',
    String(baud),
    '--port',
    String(port),
    ...(salvage === true ? ['--salvage'] : []),
  ]
}
