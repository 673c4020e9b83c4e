import type { Command } from 'commander'
import { EXIT, type ExitCode } from '../exit-codes.ts'
import type { CliHost } from '../host.ts'
import type { Output } from '../output.ts'

export function describeSalvageCommand(command: Command): Command {
  return command.description('set a damaged archive aside and copy what can be read into a new one').addHelpText(
    'after',
    `
Example:
  slewlight salvage --archive panels.sqlite

A whole archive is refused. The damaged file is kept beside the new one.`,
  )
}

/** Lost captures count as something missing. */
export async function runSalvage(archive: string, host: CliHost, output: Output): Promise<ExitCode> {
  const { words, ...report } = await host.salvage(archive)
  output.result(report, () => words)
  return report.lost_captures.length === 0 ? EXIT.done : EXIT.incomplete
}
