/** An archive with one small simulated sweep, made by the built command line before the tests of a file. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll } from 'vitest'
import { slewlight, type Finished } from '../support/program.ts'

export interface Json {
  readonly [key: string]: Json
  readonly [index: number]: Json
}
export const list = (value: Json | undefined): Json[] => value as unknown as Json[]

export interface SweptArchive {
  readonly folder: string
  /** A command on the archive. */
  readonly at: (...args: string[]) => Promise<Finished>
  /** Its answer as JSON; throws where there is none. */
  readonly json: (...args: string[]) => Promise<{ readonly code: number | null; readonly answer: Json }>
}

/** Two repeats of the six transitions between three levels; `more` are further options of the sweep. */
export function sweptArchive(more: (folder: string) => readonly string[] = () => []): SweptArchive {
  const folder = mkdtempSync(join(tmpdir(), 'slewlight-swept-'))
  const archive = join(folder, 'archive.sqlite')
  const at = (...args: string[]): Promise<Finished> => slewlight([...args, '--archive', archive]).done
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
    const swept = await at('sweep', ...plan, '--speed', '10', ...more(folder))
    if (swept.code !== 0) throw new Error(swept.stderr)
  }, 60_000)
  afterAll(() => rmSync(folder, { recursive: true, force: true }))
  return {
    folder,
    at,
    async json(...args) {
      const { code, stdout, stderr } = await at(...args, '--json')
      if (stdout === '') throw new Error(`No answer to ${args.join(' ')}: ${stderr}`)
      return { code, answer: JSON.parse(stdout) as Json }
    },
  }
}
