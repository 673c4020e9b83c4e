/** A mistyped path of an archive: what reads one, or goes on in one, says so and makes nothing. */
import { mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import type { CliHost } from '#main/cli/host.ts'
import { openStore } from '#main/store/store.ts'
import { clock, collectingLog } from '../store/fixtures.ts'
import { slewlight } from '../support/program.ts'
import { createStoreWorker } from '../support/workers.ts'
import { noArchive, run } from './in-process.ts'

const folder = mkdtempSync(join(tmpdir(), 'slewlight-absent-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))
const recipe = join(folder, 'recipe.json')
writeFileSync(recipe, '{}')
const mistyped = join(folder, 'new', 'panles.sqlite')
const beside = join(folder, 'panles.sqlite')

const open: CliHost['openStore'] = (path) =>
  openStore({ path, createWorker: createStoreWorker, clock, log: collectingLog(), mustExist: true })
const host: CliHost = {
  ...noArchive,
  openStore: open,
  async openCore({ archive, create }) {
    if (create) throw new Error('It would make an archive.')
    await open(archive, 'change')
    throw new Error('There was an archive.')
  },
}

const COMMANDS = [
  ['show', 'campaigns'],
  ['export', 'matrix', '1', '--out', join(folder, 'matrix.csv')],
  ['review', 'list'],
  ['review', 'undo'],
  ['record', 'show', 'Panel A'],
  ['record', 'read', 'Panel A', 'power', '--meter', 'tcp://127.0.0.1:1'],
  ['recipes', 'list'],
  ['recipes', 'add', recipe],
  ['reanalyse', '--recipe', '10-90'],
  ['compare-recipes', '10-90', '3', '--sweep', '1'],
  ['findings', 'Panel A'],
  ['report', 'Panel A', '--out', join(folder, 'report.html')],
  ['bundle', 'Panel A', '--out', join(folder, 'bundle')],
  ['sweep', '--resume', '1'],
  ['campaign-run', '--resume', '1', '--skip', 'Strong@144'],
  ['guide', 'Panel A', 'uniformity'],
]

describe('an archive that is not there', () => {
  it.each(COMMANDS.map((command) => [command.slice(0, 2).join(' '), command]))(
    'is refused by %s',
    async (_, command) => {
      for (const path of [mistyped, beside]) {
        const { code, out, err } = await run([...command, '--archive', path], host)
        expect(err).toContain(`There is no archive at ${path}.`)
        expect(err).toContain('Check the path')
        expect(code).toBe(6)
        expect(out).toBe('')
      }
      expect(readdirSync(folder)).toEqual(['recipe.json'])
    },
  )

  // One for each way in which the built program opens an archive.
  it.each([['show', 'campaigns'], ['recipes', 'add', recipe], ['review', 'undo'], ['salvage']])(
    'is refused by the built program: %s %s',
    async (...command) => {
      const { code, stderr } = await slewlight([...command.filter(Boolean), '--archive', beside]).done
      expect(stderr).toContain(`There is no archive at ${beside}.`)
      expect(code).toBe(6)
      expect(readdirSync(folder)).toEqual(['recipe.json'])
    },
  )

  it('keeps the presets from nobody: they are shown where none was made yet at the usual place', async () => {
    expect((await run(['recipes', 'list'])).out).toContain('10–90')
    expect((await run(['recipes', 'show', '10-90', '--json'])).code).toBe(0)
  })
})
