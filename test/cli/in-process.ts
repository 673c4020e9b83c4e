/** Runs command lines without a process of their own, for commands that need no archive. */
import { runCli } from '#main/cli/program.ts'
import type { CliHost } from '#main/cli/host.ts'

export interface Answer {
  readonly code: number
  readonly out: string
  readonly err: string
}

const unused = (): never => {
  throw new Error('This command opened an archive or a server.')
}

export const noArchive: CliHost = {
  version: '1.2.3',
  standardArchive: '/nowhere/archive.sqlite',
  openStore: async () => unused(),
  openCore: async () => unused(),
  library: async () => unused(),
  publisher: async () => unused(),
  demo: async () => unused(),
  verify: async () => unused(),
  salvage: async () => unused(),
  serve: async () => unused(),
}

export async function run(args: readonly string[], host: CliHost = noArchive): Promise<Answer> {
  let out = ''
  let err = ''
  const code = await runCli(args, host, {
    out: (text) => {
      out += text
    },
    write: async (bytes) => {
      out += new TextDecoder().decode(bytes)
    },
    err: (text) => {
      err += text
    },
    liveErr: false,
    onInterrupt: () => () => undefined,
  })
  return { code, out, err }
}
