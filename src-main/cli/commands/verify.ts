import type { Command } from 'commander'
import { EXIT, type ExitCode } from '../exit-codes.ts'
import type { CliHost } from '../host.ts'
import type { Output } from '../output.ts'

export function describeVerify(command: Command): Command {
  return command
    .description('measure every raw trace of a bundle again and compare each published number')
    .argument('<bundle>', 'folder or zip of an evidence bundle')
    .addHelpText(
      'after',
      `
Example:
  slewlight verify panel-a.zip

Exit code 0 when everything agrees, 1 when a number or a file does not; each is named.`,
    )
}

export async function runVerify(bundle: string, host: CliHost, output: Output, signal: AbortSignal): Promise<ExitCode> {
  const report = await host.verify(bundle, {
    signal,
    onProgress: (done, total) => output.progress(`${done} of ${total} traces measured again`, { done, total }),
  })
  output.progressEnd()
  const { captures, numbers, problems } = report
  output.result({ captures, numbers, problems }, () =>
    problems.length === 0
      ? `Everything agrees: ${captures} traces measured again, ${numbers} numbers compared.`
      : [
          `${problems.length} problems in ${captures} traces and ${numbers} numbers:`,
          ...problems.map(({ file, place, problem }) => `${file}${place === '' ? '' : `, ${place}`}: ${problem}`),
        ].join('\n'),
  )
  return problems.length === 0 ? EXIT.done : EXIT.incomplete
}
