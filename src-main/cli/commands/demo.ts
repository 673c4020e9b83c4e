import type { Command } from 'commander'
import { integerOption } from '../options.ts'
import type { CliHost } from '../host.ts'
import type { Output } from '../output.ts'
import { serveArguments } from './serve.ts'

export interface DemoOptions {
  readonly serve?: boolean
  readonly port: number
  readonly folder?: string
}

export function describeDemo(command: Command): Command {
  return command
    .description('make the demo library: invented displays in an archive of their own')
    .option('--serve', 'then open the application on it in a browser on this machine')
    .option('--port <n>', 'with --serve: port; 0 for any free one', integerOption(0, 65_535), 0)
    .option('--folder <folder>', 'where the library is kept; a folder of its own beside your archive by default')
    .addHelpText(
      'after',
      `
Examples:
  slewlight demo --serve
  slewlight show campaigns --archive "$(slewlight demo --json | jq -r .archive)"

It is made in seconds the first time and kept. All displays and numbers in it are invented; your own archive is not touched.`,
    )
}

export async function runDemo(
  { serve, port, folder }: DemoOptions,
  host: CliHost,
  interruptible: <T>(work: (signal: AbortSignal) => Promise<T>) => Promise<T>,
  output: Output,
): Promise<void> {
  const tell = (done: number, total: number): void =>
    output.progress(`Making the demo library: ${done} of ${total} captures`, { done, total })
  const archive = await interruptible((signal) => host.demo(folder, tell, signal))
  output.progressEnd()
  if (serve === true) {
    output.note('The demo library: every display and number in it is invented.')
    await host.serve(serveArguments({ archive, rig: 'sim', baud: 115_200, port }))
    return
  }
  output.result({ archive, invented: true }, () =>
    [
      `The demo library is in ${archive}`,
      'Every display and number in it is invented.',
      '',
      'To look at it:',
      '  slewlight demo --serve        the application in a browser',
      '  npm start -- --demo           the desktop application',
      `  slewlight show campaigns --archive ${JSON.stringify(archive)}`,
    ].join('\n'),
  )
}
