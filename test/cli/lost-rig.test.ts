/** An unattended sweep over a pseudo-terminal whose cable is pulled and put back. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { injectAtSocket } from '#main/stimulus/control-socket.ts'
import { SKIP_PTY } from '../rig/support/pty.ts'
import { slewlight, type Running } from '../support/program.ts'

describe.skipIf(SKIP_PTY)('a sweep from the command line that loses its rig', () => {
  const folder = mkdtempSync(join(tmpdir(), 'slewlight-lost-'))
  const file = (name: string): string => join(folder, name)
  let rig: Running

  beforeAll(async () => {
    rig = slewlight(['rig-sim', '--pty', file('rig'), '--control', file('rig.sock')])
    await rig.said(/Simulated rig/)
  })
  afterAll(async () => {
    expect((await rig.kill('SIGTERM')).code).toBe(0)
    rmSync(folder, { recursive: true, force: true })
  })

  it('waits, goes on by itself when the rig is back, and misses nothing', async () => {
    const options = [
      '--rig',
      file('rig'),
      '--control',
      file('rig.sock'),
      '--baud',
      '4000000',
      '--archive',
      file('a.sqlite'),
    ]
    const sweep = slewlight(['sweep', ...options, '--levels', '0,255', '--repeats', '8', '--rate', '20000', '--json'])
    await sweep.said(/"captures_done":[2-9]/)
    await injectAtSocket(file('rig.sock'), 'unplug')
    await sweep.said(/The rig is lost/)
    await injectAtSocket(file('rig.sock'), 'replug')
    const { code, stdout, stderr } = await sweep.done
    expect([code, stderr]).toEqual([0, expect.stringMatching(/The rig is back/)])
    const answer = JSON.parse(stdout) as { sweep: Record<string, unknown> }
    expect(answer.sweep).toMatchObject({ state: 'finished', captures_done: 16, captures_missing: 0 })
  })

  it('waits, and misses nothing, when the simulated rig and its display are killed together and started anew', async () => {
    const [pty, control] = [file('other'), file('other.sock')]
    const begin = (): Running => slewlight(['rig-sim', '--pty', pty, '--control', control])
    const killed = begin()
    await killed.said(/Simulated rig/)
    const options = ['--rig', pty, '--control', control, '--baud', '4000000', '--archive', file('b.sqlite')]
    const sweep = slewlight(['sweep', ...options, '--levels', '0,255', '--repeats', '8', '--rate', '20000', '--json'])
    await sweep.said(/"captures_done":[2-9]/)
    await killed.kill('SIGKILL')
    await sweep.said(/The rig is lost/)
    const again = begin()
    const { code, stdout } = await sweep.done
    expect((await again.kill('SIGTERM')).code).toBe(0)
    expect(code).toBe(0)
    const answer = JSON.parse(stdout) as { sweep: Record<string, unknown> }
    expect(answer.sweep).toMatchObject({ state: 'finished', captures_done: 16, captures_missing: 0 })
  })
})
