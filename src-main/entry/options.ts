/** Command-line options that desktop and server share. */
import { resolve } from 'node:path'
import { parseArgs } from 'node:util'
import { AppError } from '#shared/domain/errors.ts'
import { rigTargetSchema, type RigTarget } from '#shared/domain/rig.ts'
import { standardPaths } from '#main/platform/paths.ts'

export interface HostOptions {
  readonly archive: string
  readonly logFolder: string
  /** Connected at the start; null leaves the rig to the operator. */
  readonly rig: RigTarget | null
  /** 0: any free port. */
  readonly port: number
  /** Copies what can be read out of a damaged archive before it is opened. */
  readonly salvage: boolean
  /** Opens the demo library, which is made first where it is not there yet, in place of `archive`. */
  readonly demo: boolean
  readonly help: boolean
}

export const HELP = `Options:
  --archive <file>   archive to use; created if it does not exist
  --rig <what>       simulated (default), none, or a serial port such as /dev/ttyACM0
  --baud <number>    rate of the serial port, 115200 by default
  --port <number>    port of the loopback server; any free one by default
  --salvage          set a damaged archive aside and copy what can be read into a new one
  --demo             open the demo library: invented displays, apart from your archive
  --help             this text
`

/** @throws AppError `invalid-input`. Unknown options are left to Electron, which takes the browser engine's. */
export function parseOptions(args: readonly string[]): HostOptions {
  const { values } = parseArgs({
    args: [...args],
    strict: false,
    options: {
      archive: { type: 'string' },
      rig: { type: 'string', default: 'simulated' },
      baud: { type: 'string', default: '115200' },
      port: { type: 'string', default: '0' },
      salvage: { type: 'boolean', default: false },
      demo: { type: 'boolean', default: false },
      help: { type: 'boolean', short: 'h', default: false },
    },
  })
  const standard = standardPaths()
  return {
    archive: typeof values.archive === 'string' ? resolve(values.archive) : standard.archive,
    logFolder: standard.logFolder,
    rig: rigTarget(String(values.rig), Number(values.baud)),
    port: portNumber(String(values.port)),
    salvage: values.salvage === true,
    demo: values.demo === true,
    help: values.help === true,
  }
}

function rigTarget(name: string, baudRate: number): RigTarget | null {
  if (name === 'none') return null
  const parsed = rigTargetSchema.safeParse(
    name === 'simulated' ? { kind: 'simulated' } : { kind: 'serial', path: name, baudRate },
  )
  if (parsed.success) return parsed.data
  throw new AppError('invalid-input', `--rig ${name} at ${baudRate} baud is not possible.`, 'See --help.')
}

function portNumber(text: string): number {
  const port = Number(text)
  if (Number.isInteger(port) && port >= 0 && port <= 65_535) return port
  throw new AppError('invalid-input', `--port ${text} is not a port number.`, 'Give a number from 1024 to 65535.')
}
