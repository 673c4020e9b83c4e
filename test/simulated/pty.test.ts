import { existsSync, readlinkSync, symlinkSync, unlinkSync, writeFileSync } from 'node:fs'
import { createConnection } from 'node:net'
import { join } from 'node:path'
import { afterEach, describe, expect, it, vi } from 'vitest'
import { createClock } from '#main/platform/clock.ts'
import { createRig, type ManagedRig } from '#main/rig/api/rig-manager.ts'
import { openSerial } from '#main/rig/transport/serial.ts'
import { injectAtSocket } from '#main/stimulus/control-socket.ts'
import { createControlStimulus } from '../support/control-stimulus.ts'
import type { RigStatus } from '#shared/domain/rig.ts'
import { hasProgram, start, startRigSim, temporaryFolder } from './processes.ts'
import { compareWithTruth, planOf, SILENT, sweepOnce } from './sweep.ts'

const SOCAT = hasProgram('socat')
if (!SOCAT)
  process.stdout.write('Tests of the pseudo-terminal are skipped: socat (Debian package socat) is not installed.\n')

const ends: (() => unknown)[] = []
afterEach(async () => {
  for (let end = ends.pop(); end; end = ends.pop()) await end()
})

function paths(): { readonly pty: string; readonly control: string } {
  const folder = temporaryFolder()
  ends.push(() => folder.remove())
  return { pty: join(folder.path, 'rig'), control: join(folder.path, 'control') }
}

async function connected(pty: string, control: string, baudRate = 921_600): Promise<ManagedRig> {
  const rig = createRig({
    clock: createClock(),
    log: SILENT,
    openSerial,
    listSerialPorts: async () => [],
    openSimulated: () => Promise.reject(new Error('There is none here.')),
    injectAtSocket,
  })
  ends.push(() => rig.close())
  await rig.connect({ kind: 'serial', path: pty, baudRate, controlPath: control })
  return rig
}

function becomes(rig: ManagedRig, status: RigStatus): Promise<void> {
  return new Promise((resolve) => {
    const look = (): void => {
      if (rig.state().status !== status) return
      stop()
      resolve()
    }
    const stop = rig.onState(look)
    look()
  })
}

it.skipIf(!SOCAT)(
  'replaces nothing at its path but the link of a terminal that is gone',
  async () => {
    const { pty } = paths()
    const kept = `${pty}-kept`
    writeFileSync(kept, 'kept')
    // A link of somebody else: to a file, to nothing, and to a terminal in use.
    for (const target of [kept, `${kept}-absent`, '/dev/ptmx', '/dev/pts/ptmx']) {
      symlinkSync(target, pty)
      const sim = startRigSim({ ptyPath: pty })
      expect(await sim.ended).toBe(1)
      expect(sim.output()).toContain('"code":"conflict"')
      expect(readlinkSync(pty)).toBe(target)
      unlinkSync(pty)
    }
    symlinkSync('/dev/pts/987654', pty)
    const sim = startRigSim({ ptyPath: pty })
    await sim.says('Simulated rig')
    expect(readlinkSync(pty)).not.toBe('/dev/pts/987654')
    const second = startRigSim({ ptyPath: pty })
    expect(await second.ended).toBe(1)
    expect(second.output()).toContain('"code":"conflict"')
    await sim.stop()
  },
  60_000,
)

it('names the Debian package when socat is missing', async () => {
  const { pty } = paths()
  const sim = startRigSim({ ptyPath: pty }, { ...process.env, PATH: '/nonexistent' })
  expect(await sim.ended).toBe(1)
  expect(sim.output()).toContain('"code":"not-found"')
  expect(sim.output()).toContain('Debian package socat')
})

describe.skipIf(!SOCAT)('on a pseudo-terminal', () => {
  it('a six-level sweep over the serial port finds the truth', async () => {
    const { pty, control } = paths()
    const sim = startRigSim({ ptyPath: pty, controlPath: control, simulation: { panel: 'swift', seed: 3 } })
    ends.push(() => sim.stop())
    await sim.says(`on ${pty}`)
    const rig = await connected(pty, control)
    expect(rig.state().identity?.model).toBe('Simulated digitizer')
    const stimulus = createControlStimulus(control)
    ends.push(() => stimulus.close())
    const plan = planOf({ setting: 'Strong', refreshHz: 144, postS: 0.09, spacingS: 0.1 })
    const cells = await sweepOnce(rig, stimulus, createClock(), plan)
    const found = compareWithTruth('swift', plan, cells)
    process.stdout.write(
      `Sweep over a pseudo-terminal: matrix mean ${(found.meanS * 1e3).toFixed(4)} ms, truth ${(found.trueMeanS * 1e3).toFixed(4)} ms (${(found.meanError * 100).toFixed(3)} %), worst cell ${(found.worstError * 100).toFixed(2)} %, mean overshoot within ${found.overshootError.toFixed(3)} points, worst ${found.worstOvershootError.toFixed(2)}\n`,
    )
    expect(found.cells).toBe(30)
    expect(found.meanError).toBeLessThan(0.02)
    expect(found.overshootError).toBeLessThan(0.5)
    expect(rig.state().losses).toBe(0)
  })

  it('survives a host that closes and opens the port, and a cable that is pulled and put back', async () => {
    const { pty, control } = paths()
    const sim = startRigSim({ ptyPath: pty, controlPath: control })
    ends.push(() => sim.stop())
    await sim.says(`on ${pty}`)
    const first = await connected(pty, control)
    await first.close()
    const rig = await connected(pty, control)
    await rig.inject('unplug')
    await becomes(rig, 'lost')
    expect(existsSync(pty)).toBe(false)
    await rig.inject('replug')
    await becomes(rig, 'ready')
    expect(sim.child.exitCode).toBeNull()
  })

  it('cleans up at SIGTERM and takes over what a killed one left behind', async () => {
    const { pty, control } = paths()
    const killed = startRigSim({ ptyPath: pty, controlPath: control })
    await killed.says(`on ${pty}`)
    killed.child.kill('SIGKILL')
    await killed.ended
    expect(existsSync(control)).toBe(true)
    const sim = startRigSim({ ptyPath: pty, controlPath: control })
    await sim.says(`on ${pty}`)
    expect(await sim.stop()).toBe(0)
    expect(sim.output()).toContain('ended')
    expect(existsSync(pty)).toBe(false)
    expect(existsSync(control)).toBe(false)
  })

  it('waits for a terminal that is just going', async () => {
    const { pty, control } = paths()
    const going = start('socat', [`PTY,link=${pty},raw,echo=0`, 'EXEC:sleep 30'])
    await vi.waitFor(() => expect(existsSync(pty)).toBe(true), { timeout: 60_000 })
    const sim = startRigSim({ ptyPath: pty, controlPath: control })
    ends.push(() => sim.stop())
    // Long enough for the simulator to have met the terminal in use, short of what it waits.
    setTimeout(() => void going.stop(), 1200)
    await sim.says(`on ${pty}`)
  })

  it('does not remove what is not its own', async () => {
    const { pty, control } = paths()
    writeFileSync(pty, 'precious')
    const sim = startRigSim({ ptyPath: pty, controlPath: control })
    expect(await sim.ended).toBe(1)
    expect(sim.output()).toContain('is taken by something else')
  })

  it('answers wrong control lines with errors and goes on', async () => {
    const { pty, control } = paths()
    const sim = startRigSim({ ptyPath: pty, controlPath: control })
    ends.push(() => sim.stop())
    await sim.says(`on ${pty}`)
    const lines = await new Promise<string[]>((resolve, reject) => {
      const socket = createConnection(control)
      let text = ''
      socket.on('error', reject)
      socket.on('data', (chunk) => {
        text += chunk.toString()
        const complete = text.split('\n').slice(0, -1)
        if (complete.length < 5) return
        socket.destroy()
        resolve(complete)
      })
      socket.write(
        'nonsense\n{"id":4,"do":"dance"}\n{"id":5,"do":"show","level":256}\n[]\n{"id":7,"do":"show","level":9}\n',
      )
    })
    const replies = lines.map((line) => JSON.parse(line) as { id: number; ok: boolean; error?: { code: string } })
    expect(replies.filter((reply) => !reply.ok).map((reply) => [reply.id, reply.error?.code])).toEqual([
      [-1, 'invalid-input'],
      [4, 'invalid-input'],
      [5, 'invalid-input'],
      [-1, 'invalid-input'],
    ])
    expect(replies.find((reply) => reply.ok)?.id).toBe(7)
  })
})
