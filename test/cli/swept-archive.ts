/** An archive with one small simulated sweep, made by the command line before the tests of a file. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll } from 'vitest'
import type { CliHost } from '#main/cli/host.ts'
import { openTestStore } from '../store/fixtures.ts'
import { openBenchCore } from '../support/bench-core.ts'
import { slewlight, type Finished } from '../support/program.ts'
import { noArchive, run } from './in-process.ts'

export interface Json {
  readonly [key: string]: Json
  readonly [index: number]: Json
}
export const list = (value: Json | undefined): Json[] => value as unknown as Json[]

type Answer = Pick<Finished, 'code' | 'stdout' | 'stderr'>

interface Commands {
  /** A command on the archive. */
  readonly at: (...args: string[]) => Promise<Answer>
  /** Its answer as JSON; throws where there is none. */
  readonly json: (...args: string[]) => Promise<{ readonly code: number | null; readonly answer: Json }>
}

/** Commands run in this process; `built` are those of the built program, each in one of its own. */
export interface SweptArchive extends Commands {
  readonly folder: string
  readonly built: Commands
}

const HOST: CliHost = {
  ...noArchive,
  openStore: (path) => openTestStore(path),
  async openCore({ archive }) {
    const on = await openBenchCore({ archive })
    return { core: on.core, store: on.store, stimulusUrl: null, close: () => on.close() }
  },
}

/** A command in this process, with simulated rigs on a clock that jumps. */
export async function inProcess(...args: string[]): Promise<Answer> {
  const { code, out, err } = await run(args, HOST)
  return { code, stdout: out, stderr: err }
}

function commands(at: Commands['at']): Commands {
  return {
    at,
    async json(...args) {
      const { code, stdout, stderr } = await at(...args, '--json')
      if (stdout === '') throw new Error(`No answer to ${args.join(' ')}: ${stderr}`)
      return { code, answer: JSON.parse(stdout) as Json }
    },
  }
}

/** Two repeats of the six transitions between three levels; `more` are further options of the sweep. */
export function sweptArchive(more: (folder: string) => readonly string[] = () => []): SweptArchive {
  const folder = mkdtempSync(join(tmpdir(), 'slewlight-swept-'))
  const archive = join(folder, 'archive.sqlite')
  const { at, json } = commands((...args) => inProcess(...args, '--archive', archive))
  beforeAll(async () => {
    const plan = [
      '--levels',
      '0,128,255',
      '--repeats',
      '2',
      '--rate',
      '20000',
      '--setting',
      'Strong',
      '--refresh',
      '120',
    ]
    const swept = await at('sweep', ...plan, ...more(folder))
    if (swept.code !== 0) throw new Error(swept.stderr)
  })
  afterAll(() => rmSync(folder, { recursive: true, force: true }))
  return { folder, at, json, built: commands((...args) => slewlight([...args, '--archive', archive]).done) }
}
