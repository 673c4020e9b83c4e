/** What is given as an input file but is none, and names that a terminal would obey. */
import { execFileSync } from 'node:child_process'
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { createOutput, textTable } from '#main/cli/output.ts'
import { printable } from '#main/cli/printable.ts'
import { run } from './in-process.ts'
import { slewlight } from '../support/program.ts'

const folder = mkdtempSync(join(tmpdir(), 'slewlight-input-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))
const at = (name: string): string => join(folder, name)
execFileSync('mkfifo', [at('0-255_pipe.csv'), at('pipe.json'), at('pipe.sqlite')])
mkdirSync(at('0-255_folder.csv'))

const ESCAPE = '\u001b[31m'

describe('an input that is no plain file', () => {
  it.each([
    ['a pipe', at('0-255_pipe.csv'), 'not a regular file'],
    ['a folder', at('0-255_folder.csv'), 'it is a folder'],
    ['an endless device', '/dev/zero', 'not a regular file'],
    ['a device that gives nothing', '/dev/null', 'not a regular file'],
    ['nothing', at('0-255_none.csv'), 'there is no such file'],
  ])('%s is refused at once as a recording', async (_, path, words) => {
    const { code, err } = await run(['measure', path])
    expect(code).toBe(5)
    expect(err).toContain(words)
  })

  it('is refused at once as a recipe', async () => {
    writeFileSync(at('0-255.csv'), 'time_s,voltage_v\n0,1\n')
    const { code, err } = await run(['measure', at('0-255.csv'), '--recipe', at('pipe.json')])
    expect(code).toBe(5)
    expect(err).toContain('not a regular file')
  })

  it('is refused at once as an archive', async () => {
    for (const path of [at('pipe.sqlite'), at('0-255_folder.csv'), '/dev/zero']) {
      const { code, stderr } = await slewlight(['show', 'campaigns', '--archive', path]).done
      expect([path, code]).toEqual([path, 2])
      expect(stderr).toContain('not a regular file')
    }
  })
})

describe('an absurd time axis', () => {
  const recording = (start: number, stepS: number): string =>
    ['time_s,voltage_v', ...Array.from({ length: 400 }, (_, i) => `${start + i * stepS},${i < 200 ? 0.1 : 3}`)].join(
      '\n',
    )
  it.each([
    ['samples 1e300 s apart', recording(0, 1e300), 's apart'],
    ['samples an hour apart', recording(0, 3600), 's apart'],
    ['samples 1e-20 s apart', recording(0, 1e-20), 's apart'],
    ['a start at 1e15 s', recording(1e15, 1), 'begins at'],
  ])('with %s is refused', async (_, text, words) => {
    writeFileSync(at('0-255_absurd.csv'), text)
    const { code, err } = await run(['measure', at('0-255_absurd.csv')])
    expect([code, err]).toEqual([5, expect.stringContaining(words)])
  })
})

describe('names with control characters', () => {
  it('are printed as codes', async () => {
    const path = at(`0-255${ESCAPE}.csv`)
    const { err } = await run(['measure', path])
    expect(err).toContain('\\u001b[31m')
    expect(err).not.toContain('\u001b')
    const asJson = await run(['measure', at('0-255\u009b31m\u202e.csv'), '--json'])
    expect(asJson.err).not.toMatch(/[\u009b\u202e]/)
    expect((JSON.parse(asJson.err) as { error: { message: string } }).error.message).toContain('\u009b31m\u202e')
  })

  it('break no table and no progress line', () => {
    expect(textTable(['name'], [[`a\nb${ESCAPE}`]])).toBe('name\na\\u000ab\\u001b[31m')
    let err = ''
    const surroundings = { out: () => undefined, err: (text: string) => (err += text), liveErr: true }
    createOutput({ ...surroundings, write: async () => undefined, onInterrupt: () => () => undefined }, false).progress(
      `a${ESCAPE}\n`,
      {},
    )
    expect(err).toBe('\ra\\u001b[31m\\u000a')
    expect(printable('Größe\tÅ\n→')).toBe('Größe\tÅ\n→')
  })
})
