/** A run from the command line that needs somebody to set the display. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { SKIP_PTY } from '../rig/support/pty.ts'
import { atTerminal, slewlight } from '../support/program.ts'
import { run } from './in-process.ts'

const folder = mkdtempSync(join(tmpdir(), 'slewlight-asking-'))
const file = (name: string): string => join(folder, name)
const campaign = (archive: string): string[] => ['campaign-run', file('plan.json'), '--archive', file(archive), '--ask']

beforeAll(() => {
  const plan = { settings: ['Gentle', 'Strong'], refreshHz: [120], sweep: { levels: [0, 128, 255], repeats: 1 } }
  writeFileSync(file('plan.json'), JSON.stringify(plan))
})
afterAll(() => rmSync(folder, { recursive: true, force: true }))

it('is refused where nobody can be asked, before anything is opened', async () => {
  const { code, err } = await run(campaign('none.sqlite'))
  expect([code, err]).toEqual([2, expect.stringMatching(/standard input is not a terminal[\s\S]*Give --change/)])
})

describe.skipIf(SKIP_PTY)('at a terminal', () => {
  it('asks for each setting, takes Enter for done, and says how to go on', async () => {
    const running = atTerminal([...campaign('a.sqlite'), '--speed', '30'])
    await running.said(/Gentle[\s\S]*Then type – Enter: done/)
    running.type('what?')
    await running.said(/Then type[\s\S]*Then type/)
    running.type('')
    await running.said(/Strong[\s\S]*Then type/)
    running.type('')
    await running.said('Run 1 is finished. Findings: slewlight findings 1')
    await running.done
  })

  it('pauses at q, and says how to resume', async () => {
    const running = atTerminal([...campaign('b.sqlite'), '--speed', '30'])
    await running.said('Then type')
    running.type('q')
    await running.said(/Run 1 is paused: [\s\S]*To resume: slewlight campaign-run --resume 1/)
    await running.done
    const shown = await slewlight(['show', 'campaigns', '--archive', file('b.sqlite'), '--json']).done
    expect(shown.code).toBe(0)
  })
})
