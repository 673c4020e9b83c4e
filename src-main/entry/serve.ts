/** The application on the loopback address, in plain Node. */
import { printable } from '#main/cli/printable.ts'
import { openLog } from '#main/platform/log.ts'
import { startLoopback } from '#main/transport/loopback.ts'
import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import { readyDemo } from './demo.ts'
import { HELP, parseOptions } from './options.ts'
import { composeSwitching } from './switching-host.ts'

const say = (line: string): void => void process.stdout.write(`${printable(line)}\n`)

/** Serves until the process is told to end. `interfaceFolder` holds the built pages. */
export async function serve(args: readonly string[], interfaceFolder: string): Promise<void> {
  try {
    await runServer(args, interfaceFolder)
  } catch (error) {
    const { code, message, remedy } = toErrorDetail(error)
    const hint = code === 'archive-damaged' ? 'Start again with --salvage to do so.' : ''
    process.stderr.write(`${printable([message, remedy, hint].filter((part) => part !== '').join(' '))}\n`)
    process.exitCode = 1
  }
}

/** As `serve`, but leaves what goes wrong to the caller. */
export async function runServer(args: readonly string[], interfaceFolder: string): Promise<void> {
  const options = parseOptions(args)
  if (options.help) {
    say(`Slewlight on the loopback address.\n\n${HELP}`)
    return
  }
  const log = openLog(options.logFolder)
  // A promise that nobody waited for must not end a run over night; it is a fault of the program and is kept.
  process.on('unhandledRejection', (reason) => log.error('An error was not handled.', { reason: String(reason) }))
  const archive = options.demo ? await readyDemo({ log, onProgress: sayMaking }) : options.archive
  const host = await composeSwitching({ ...options, archive, host: 'server', log, windows: NO_WINDOWS, tell: say })
  const loopback = await startLoopback({
    serve: host.serve,
    root: interfaceFolder,
    port: options.port,
    log,
    onUsed: (next) => say(`That address has been used. For another browser: ${next}`),
  })
  // Listened for before the address is out: whoever reads it may end the program at once.
  const end = new Promise<void>((resolve) => {
    for (const name of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) process.once(name, () => resolve())
  })
  say(`Slewlight is at ${loopback.url}`)
  say(`Page for the display under test: ${loopback.stimulusUrl}`)
  say(`Archive: ${archive}${options.demo ? ' (the demo library; all of it is invented)' : ''}`)
  await end
  await loopback.close()
  await host.close()
}

/** The library takes some seconds where it is not there yet, and there is no page to say so. */
function sayMaking(done: number): void {
  if (done === 0) say('Making the demo library, which takes some ten seconds…')
}

export const NO_WINDOWS = {
  screens: () => [],
  open: async (): Promise<void> => {
    throw new AppError(
      'conflict',
      'Only the desktop application opens a window on the display under test.',
      'Open the stimulus page in a browser on that display.',
    )
  },
  close: async (): Promise<void> => undefined,
}
