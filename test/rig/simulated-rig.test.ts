import { afterEach, describe, expect, it } from 'vitest'
import type { Clock, RecordSettings, Recording } from '#main/core/ports.ts'
import { createRig, type ManagedRig } from '#main/rig/api/rig-manager.ts'
import { createSimulatedBench, type SimulatedBench } from '#main/rig/simulated/simulated-bench.ts'
import { createSimulatedRigs } from '#main/rig/simulated/simulated-rigs.ts'
import { listSerialPorts, openSerial } from '#main/rig/transport/serial.ts'
import type { RigTimings } from '#main/rig/api/timings.ts'
import { rigTargetSchema, simulationSchema, type SimFault } from '#shared/domain/rig.ts'
import { join2, openPtyPair, SKIP_PTY } from './support/pty.ts'
import { clock, failure, FAST, realClock, silentLog, until } from './support/rig-bench.ts'

/** The simulated instrument answers at once; only its records take their time. */
const TIMINGS: Partial<RigTimings> = { ...FAST, answerS: 0.4, silenceS: 0.25, confirmS: 0.5, overdueS: 0.5, drainS: 5 }
const SETTINGS: RecordSettings = {
  sampleRateHz: 50_000,
  points: 2500,
  preTriggerPoints: 500,
  rangeV: 5,
  trigger: { source: 'level', levelV: 2, slope: 'rising' },
  transfer: 'int16',
}
const BUS: RecordSettings = { ...SETTINGS, preTriggerPoints: 0, trigger: { source: 'bus' } }

let rig: ManagedRig | null = null
afterEach(async () => {
  await rig?.close()
  rig = null
})

async function inMemory(bytesPerSecond: number | null = null): Promise<{ rig: ManagedRig; bench: SimulatedBench }> {
  const simulated = createSimulatedRigs(clock, { bytesPerSecond })
  const made = createRig({
    clock,
    log: silentLog,
    openSerial,
    listSerialPorts,
    openSimulated: simulated.open,
    timings: TIMINGS,
  })
  rig = made
  await made.connect(rigTargetSchema.parse({ kind: 'simulated' }))
  const bench = simulated.current()
  if (bench === null) throw new Error('There is no simulated rig.')
  return { rig: made, bench }
}

async function record(
  from: ManagedRig,
  bench: SimulatedBench,
  settings: RecordSettings,
  on: Clock = clock,
): Promise<Recording> {
  const digitizer = from.digitizer()
  await bench.show(0)
  await on.sleep(0.03)
  await digitizer.configure(settings)
  await digitizer.arm()
  if (settings.trigger.source === 'bus') await digitizer.trigger()
  if (settings.trigger.source !== 'immediate') await bench.show(255)
  return digitizer.read()
}

function meanV({ trace }: Recording, from: number, to: number): number {
  const part = Array.from(trace.samples.slice(from, to))
  return part.reduce((sum, sample) => sum + sample * trace.scaleV, 0) / part.length
}

describe('the simulated rig in memory', () => {
  it('has everything the recording needs, by its own list', async () => {
    const { rig } = await inMemory()
    const { identity, capabilities } = rig.state()
    expect(identity?.manufacturer).not.toBe('')
    expect(capabilities?.crc).toBe(true)
    expect(capabilities?.headers.length).toBeGreaterThan(30)
  })

  it.each(['int16', 'real32'] as const)('records the light edge at the trigger (%s)', async (transfer) => {
    const { rig, bench } = await inMemory()
    const recording = await record(rig, bench, { ...SETTINGS, transfer })
    expect(recording.trace.samples.length).toBe(2500)
    expect(recording.triggerIndex).toBe(500)
    expect(meanV(recording, 0, 300)).toBeLessThan(0.2)
    expect(meanV(recording, 2200, 2500)).toBeGreaterThan(3)
    const at = (i: number): number => (recording.trace.samples[i] ?? 0) * recording.trace.scaleV
    expect(at(500)).toBeCloseTo(2, 1)
  })

  it('records on the bus trigger and at once', async () => {
    const { rig, bench } = await inMemory()
    expect((await record(rig, bench, BUS)).trace.samples.length).toBe(2500)
    const now = await record(rig, bench, { ...BUS, trigger: { source: 'immediate' } })
    expect(meanV(now, 0, 2500)).toBeLessThan(0.2)
  })

  it.each([
    ['noise-burst', 'rig-protocol'],
    ['wrong-length', 'rig-protocol'],
    ['flipped-bytes', 'rig-protocol'],
  ] as const)('counts a block spoilt by %s and records the next', async (fault, code) => {
    const { rig, bench } = await inMemory()
    await rig.inject(fault)
    expect((await failure(record(rig, bench, SETTINGS))).code).toBe(code)
    expect(rig.state()).toMatchObject({ status: 'ready', losses: 1 })
    expect((await record(rig, bench, SETTINGS)).trace.samples.length).toBe(2500)
    expect(rig.state().losses).toBe(1)
  })

  it('brings a clipped input as the samples at its rail, each time', async () => {
    const { rig, bench } = await inMemory()
    await rig.inject('clipped')
    const highest = async (): Promise<number> => Math.max(...(await record(rig, bench, SETTINGS)).trace.samples)
    expect(await highest()).toBe(32_767)
    expect(await highest()).toBe(32_767)
    await rig.inject('none')
    expect(await highest()).toBeLessThan(32_767)
  })

  it('loses a stalled rig and finds it again', async () => {
    const { rig, bench } = await inMemory()
    const digitizer = rig.digitizer()
    await digitizer.configure(BUS)
    await digitizer.arm()
    await rig.inject('stall')
    await digitizer.trigger()
    expect((await failure(digitizer.read())).code).toBe('rig-lost')
    expect(rig.state().status).toBe('lost')
    await rig.inject('none')
    await until(rig, (state) => state.status === 'ready')
    expect((await record(rig, bench, SETTINGS)).trace.samples.length).toBe(2500)
  })

  it('refuses a capture on a slow link with numbers', async () => {
    const { rig } = await inMemory(11_520)
    const digitizer = rig.digitizer()
    await digitizer.configure(BUS)
    await rig.inject('slow-link')
    const error = await failure(digitizer.configure({ ...BUS, points: 15_000 }))
    expect(error.code).toBe('link-too-slow')
    expect(error.message).toContain('30012 bytes')
  })

  const moments: readonly (readonly [string, (rig: ManagedRig, bench: SimulatedBench) => Promise<unknown>])[] = [
    ['idle', async () => undefined],
    ['configured', async (rig) => rig.digitizer().configure(SETTINGS)],
    [
      'waiting for its trigger',
      async (rig) => {
        await rig.digitizer().configure(SETTINGS)
        await rig.digitizer().arm()
      },
    ],
    [
      'recording',
      async (rig) => {
        await rig.digitizer().configure(BUS)
        await rig.digitizer().arm()
        await rig.digitizer().trigger()
      },
    ],
    [
      'read from',
      async (rig) => {
        const digitizer = rig.digitizer()
        await digitizer.configure(SETTINGS)
        await digitizer.arm()
        void digitizer.read().catch(() => undefined)
      },
    ],
  ]
  it.each(moments)('comes back after the cable was pulled while %s', async (_, reach) => {
    const { rig, bench } = await inMemory()
    await reach(rig, bench)
    await rig.inject('unplug')
    expect(rig.state().status).toBe('lost')
    await clock.sleep(0.1)
    expect(rig.state().status).toBe('lost')
    await rig.inject('replug')
    await until(rig, (state) => state.status === 'ready')
    expect((await record(rig, bench, SETTINGS)).trace.samples.length).toBe(2500)
  })

  it('survives any sequence of faults between captures', async () => {
    const { rig, bench } = await inMemory()
    const faults: readonly SimFault[] = ['noise-burst', 'unplug', 'flipped-bytes', 'wrong-length', 'unplug', 'clipped']
    let good = 0
    for (const fault of faults) {
      await rig.inject(fault)
      await record(rig, bench, SETTINGS).then(
        () => (good += 1),
        (error: unknown) => expect(error).toMatchObject({ code: expect.stringMatching(/^rig-/) }),
      )
      await rig.inject('none')
      await until(rig, (state) => state.status === 'ready')
      await record(rig, bench, SETTINGS)
      good += 1
    }
    expect(good).toBeGreaterThanOrEqual(faults.length)
  })
})

describe.skipIf(SKIP_PTY)('the simulated rig on a pseudo-terminal', () => {
  it('records what it records in memory, through the real serial port', async () => {
    const pair = await openPtyPair()
    const bench = createSimulatedBench({ simulation: simulationSchema.parse({}), clock: realClock })
    const far = await openSerial(pair.far, 921_600)
    join2(far, await bench.open())
    const made = createRig({
      clock: realClock,
      log: silentLog,
      openSerial,
      listSerialPorts,
      openSimulated: () => Promise.reject(new Error('not here')),
      timings: { ...TIMINGS, answerS: 1, silenceS: 1 },
    })
    rig = made
    try {
      await made.connect({ kind: 'serial', path: pair.host, baudRate: 921_600 })
      const recording = await record(made, bench, { ...SETTINGS, points: 15_000 }, realClock)
      expect(recording.trace.samples.length).toBe(15_000)
      expect(meanV(recording, 0, 300)).toBeLessThan(0.2)
      expect(meanV(recording, 14_000, 15_000)).toBeGreaterThan(3)
      await bench.inject('flipped-bytes')
      expect((await failure(record(made, bench, SETTINGS, realClock))).code).toBe('rig-protocol')
      expect((await record(made, bench, SETTINGS, realClock)).trace.samples.length).toBe(2500)
      await pair.pull()
      await until(made, (state) => state.status === 'lost')
    } finally {
      await made.close()
      await far.close()
      await bench.dispose()
      await pair.pull()
    }
  })
})
