import { chmodSync, existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { runChangeProgram } from '#main/platform/change-program.ts'
import { parseChangeCommand } from '#shared/domain/change-command.ts'

const home = mkdtempSync(join(tmpdir(), 'slewlight-change-'))
afterAll(() => rmSync(home, { recursive: true, force: true }))

/** A program that writes its arguments down, one a line, and ends as it is told. */
function program(name: string, script: string): string {
  const file = join(home, name)
  writeFileSync(file, `#!/bin/sh\n${script}\n`)
  chmodSync(file, 0o755)
  return file
}
const never = new AbortController().signal
const run = (template: string, setting = 'Strong', signal = never) =>
  runChangeProgram(parseChangeCommand(template), { setting, refreshHz: 143.9 }, signal)

describe('the program that changes a setting', () => {
  it('gets setting and refresh rate as they are, and no shell sees them', async () => {
    const log = join(home, 'log')
    const trap = join(home, 'trap')
    const file = program('write', `printf '%s\\n' "$@" > ${log}`)
    const setting = `x; touch ${trap} $(touch ${trap}) \`id\` "q" && --force`
    await run(`${file} {setting} at={refresh}`, setting)
    expect(readFileSync(log, 'utf8')).toBe(`${setting}\nat=143.9\n`)
    expect(existsSync(trap)).toBe(false)
  })
  it('is believed only when it ends with 0, and what it said is told in one line', async () => {
    const file = program('fail', 'printf "no such\\033[31m\\nmode" >&2; exit 3')
    await expect(run(`${file} {setting}`)).rejects.toMatchObject({
      code: 'invalid-input',
      message: 'The change command failed: exit code 3. It said: no such [31m mode',
    })
    await expect(run(`${join(home, 'nowhere')} {setting}`)).rejects.toThrow('it is not there')
  })
  it('is done when it ends, also where what it started holds its output open', async () => {
    // Longer than the test may take: the program itself ends at once.
    await run(program('leaves', 'sleep 30 & exit 0'))
    await expect(run(program('leaves-and-fails', 'echo gone >&2; sleep 30 & exit 4'))).rejects.toThrow(
      'exit code 4. It said: gone',
    )
  })
  it('is stopped with the run', async () => {
    const stop = new AbortController()
    const ended = run(program('sleep', 'exec sleep 30'), 'Off', stop.signal)
    stop.abort()
    await expect(ended).rejects.toMatchObject({ code: 'cancelled' })
  })
})
