/** A run over a plan file: what is wrong in the file is named by its key, and what is missing at the end shows in the exit code. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { slewlight } from '../support/program.ts'
import { run } from './in-process.ts'

const folder = mkdtempSync(join(tmpdir(), 'slewlight-campaign-run-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))
const planFile = (plan: unknown): string => {
  const path = join(folder, 'plan.json')
  writeFileSync(path, JSON.stringify(plan))
  return path
}

describe('a plan file', () => {
  const plan = { settings: ['Off'], refreshHz: [60] }
  it.each([
    [{ ...plan, refreshHz: [60, -1] }, /refreshHz\.1: /],
    [{ ...plan, settings: ['=1+1'] }, /settings\.0: A setting is 1 to 60 letters, digits/],
    [{ ...plan, sweeps: { repeats: 1 } }, /"sweeps"/],
    [{ ...plan, sweep: { repeat: 1 } }, /sweep: .*"repeat"/],
    [{ ...plan, sweep: { repeats: 1e6 } }, /sweep\.repeats: /],
    [{ ...plan, leaveOut: [{ setting: 'off', refreshHz: 60 }] }, /leaveOut\.0: off at 60 Hz is not among/],
    [null, /The plan is not possible: \S/],
  ])('%j is refused, and where', async (wrong, named) => {
    const { code, err } = await run(['campaign-run', planFile(wrong)])
    expect([code, err]).toEqual([2, expect.stringMatching(named)])
    // No option of the command line has these names.
    expect(err).not.toMatch(/ --/)
  })

  it('is refused beside the number of a run, which has its plan already', async () => {
    const { code, err } = await run(['campaign-run', planFile(plan), '--resume', '1'])
    expect([code, err]).toEqual([2, expect.stringContaining('has its plan already')])
  })
})

it('a report is named .html or .pdf, and nothing is written under another name', async () => {
  const { code, err } = await run(['report', '1', '--out', join(folder, 'report.txt')])
  expect([code, err]).toEqual([2, expect.stringContaining('is neither .html nor .pdf')])
})

it('a run that is finished with a sweep skipped says so and ends with 1', async () => {
  const on = ['--archive', join(folder, 'archive.sqlite'), '--speed', '100', '--json']
  const plan = { settings: ['Off', 'Gentle'], refreshHz: [120], sweep: { levels: [0, 255], repeats: 1 } }
  const paused = await slewlight(['campaign-run', planFile(plan), '--change', '/nowhere/set {setting}', ...on]).done
  expect([paused.code, JSON.parse(paused.stdout)]).toEqual([8, expect.objectContaining({ run_id: 1, state: 'paused' })])
  const { code, stdout } = await slewlight(['campaign-run', '--resume', '1', '--skip', 'Gentle@120', ...on]).done
  expect([code, JSON.parse(stdout)]).toEqual([
    1,
    expect.objectContaining({ state: 'finished', sweeps_skipped: 1, captures_missing: 0 }),
  ])
}, 60_000)
