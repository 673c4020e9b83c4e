/**
 * Measures the rig host: throughput of a block over memory and over a pseudo-terminal, and the time a capture of 15,000
 * samples costs beyond its recording (arm, trigger, state, block, checksum). Run: node test/rig/measure-link.ts
 */
import { createRig, type ManagedRig } from '#main/rig/api/rig-manager.ts'
import { listSerialPorts, openSerial } from '#main/rig/transport/serial.ts'
import { FakeInstrument } from './support/fake-instrument.ts'
import { HAS_SOCAT, join2, openPtyPair } from './support/pty.ts'
import { clock, SERIAL, SETTINGS, silentLog } from './support/rig-bench.ts'

const BAUD = 12_000_000
const CAPTURE = 15_000
const LARGE = 2_000_000
const ROUNDS = 200

function median(values: readonly number[]): number {
  return [...values].sort((a, b) => a - b)[Math.floor(values.length / 2)] ?? NaN
}

async function measure(rig: ManagedRig): Promise<Record<string, number>> {
  const digitizer = rig.digitizer()
  const once = async (points: number): Promise<number> => {
    const settings = { ...SETTINGS, points, transferLimitS: 60 }
    await digitizer.configure(settings)
    const startedAt = clock.now()
    await digitizer.arm()
    await digitizer.trigger()
    const heldBackS = (points - settings.preTriggerPoints) / settings.sampleRateHz
    await digitizer.read()
    return clock.now() - startedAt - heldBackS
  }
  const rounds: number[] = []
  for (let i = 0; i < ROUNDS; i++) rounds.push(await once(CAPTURE))
  const large: number[] = []
  for (let i = 0; i < 5; i++) large.push(await blockSeconds(rig))
  return {
    captureMedianMs: median(rounds) * 1000,
    captureWorstMs: Math.max(...rounds) * 1000,
    blockMBPerS: (2 * LARGE) / 1e6 / median(large),
  }
}

/** One large immediate record: nearly all of its time is its block. */
async function blockSeconds(rig: ManagedRig): Promise<number> {
  const digitizer = rig.digitizer()
  await digitizer.configure({
    ...SETTINGS,
    points: LARGE,
    preTriggerPoints: 0,
    trigger: { source: 'immediate' },
    transferLimitS: 60,
  })
  await digitizer.arm()
  const startedAt = clock.now()
  await digitizer.read()
  return clock.now() - startedAt
}

function fake(): FakeInstrument {
  const instrument = new FakeInstrument()
  instrument.pollsToRecord = 0
  const samples = new Map<number, Int16Array>()
  instrument.samples = (points) => {
    const known = samples.get(points) ?? Int16Array.from({ length: points }, (_, i) => (i * 257) % 65_536)
    samples.set(points, known)
    return known
  }
  return instrument
}

const deps = { clock, log: silentLog, listSerialPorts, openSimulated: () => Promise.reject(new Error('not used')) }

const inMemory = createRig({ ...deps, openSerial: async () => fake().plug() })
await inMemory.connect(SERIAL)
console.log('memory', JSON.stringify(await measure(inMemory)))
await inMemory.close()

if (HAS_SOCAT) {
  const pair = await openPtyPair()
  const far = await openSerial(pair.far, BAUD)
  join2(far, fake().plug())
  const onPty = createRig({ ...deps, openSerial })
  await onPty.connect({ kind: 'serial', path: pair.host, baudRate: BAUD })
  console.log('pseudo-terminal', JSON.stringify(await measure(onPty)))
  await onPty.close()
  await far.close()
  await pair.pull()
} else console.log('pseudo-terminal: not measured, socat is not installed')
