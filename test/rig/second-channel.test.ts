/** The second channel of a record in scripted bytes: a rig that names it, one that does not, and what goes wrong. */
import { describe, expect, it } from 'vitest'
import { eventLight } from '#shared/latency/event.ts'
import { block, FAKE_HEADERS, FakeInstrument } from './support/fake-instrument.ts'
import { connected, failure, SETTINGS } from './support/rig-bench.ts'

const POINTS = 2000
const BOTH = { ...SETTINGS, points: POINTS, preTriggerPoints: 200, sampleRateHz: 10_000, second: true }
const TWO_HEADERS = [...FAKE_HEADERS, ':TRACe[:DATA]?/qonly/', ':TRACe:CATalog?/qonly/']

/** Codes of ±32768 for 5 V, least significant byte first. */
const bytesOf = (voltsAt: (ms: number) => number): Uint8Array => {
  const bytes = new Uint8Array(2 * POINTS)
  const view = new DataView(bytes.buffer)
  // A little of everything, so that no two samples are alike.
  for (let i = 0; i < POINTS; i++)
    view.setInt16(2 * i, Math.round((voltsAt(i / 10) / 5) * 32_768) + ((7 * i) % 5), true)
  return bytes
}

/** Light that comes at 90 ms; what the second channel shows is given. */
function twoChannels(second: (ms: number) => number): FakeInstrument {
  const fake = new FakeInstrument()
  fake.headers = TWO_HEADERS.filter((header) => !header.includes('CRC'))
  fake.script.set('TRAC:CAT?', () => '"CH1","CH2"')
  fake.script.set('FETC?', () => block(bytesOf((ms) => (ms < 90 ? 0.02 : 4))))
  fake.script.set('TRAC? "CH2"', () => block(bytesOf(second)))
  return fake
}

async function lightOf(fake: FakeInstrument): Promise<ReturnType<typeof eventLight>> {
  const rig = await connected(fake)
  try {
    const digitizer = rig.digitizer()
    expect(await digitizer.hasSecond()).toBe(true)
    await digitizer.configure(BOTH)
    await digitizer.arm()
    await digitizer.trigger()
    const { trace, triggerIndex, second } = await digitizer.read()
    expect(second?.samples).toHaveLength(POINTS)
    return eventLight(trace, triggerIndex, second)
  } finally {
    await rig.disconnect()
  }
}

describe('the second channel', () => {
  it('carries the event: the light is 47 ms after its edge, wherever the record began', async () => {
    const light = await lightOf(twoChannels((ms) => (ms >= 43 && ms < 110 ? 3.3 : 0)))
    if (typeof light === 'string') throw new Error(light)
    expect(Math.abs(1000 * light.halfS - 47)).toBeLessThan(0.11)
  })

  it.each([
    ['nothing on it', () => 0, /shows no edge/],
    ['an edge after the light', (ms: number) => (ms >= 120 ? 3.3 : 0), /changed before the event/],
    ['two presses before the light', (ms: number) => ((ms >= 30 && ms < 40) || ms >= 70 ? 3.3 : 0), /second event/],
  ])('with %s gives no latency, and why', async (_, second, reason) => {
    expect(await lightOf(twoChannels(second))).toMatch(reason)
  })

  it('that bounces counts from its first edge', async () => {
    const light = await lightOf(
      twoChannels((ms) => ((ms >= 43 && ms < 43.6) || (ms >= 44 && ms < 44.4) || (ms >= 46 && ms < 110) ? 3.3 : 0)),
    )
    expect(light).toMatchObject({ bounces: 2 })
    expect(typeof light === 'string' ? 0 : Math.abs(1000 * light.halfS - 47)).toBeLessThan(0.11)
  })

  it('of the wrong length is a protocol error, not a latency', async () => {
    const fake = twoChannels(() => 0)
    fake.script.set('TRAC? "CH2"', () => block(new Uint8Array(2 * POINTS - 2)))
    const rig = await connected(fake)
    const digitizer = rig.digitizer()
    await digitizer.configure(BOTH)
    await digitizer.arm()
    await digitizer.trigger()
    expect((await failure(digitizer.read())).code).toBe('rig-protocol')
    await rig.disconnect()
  })

  it('is not there where the rig does not list it, and is then not asked for', async () => {
    const plain = new FakeInstrument()
    const rig = await connected(plain)
    expect(await rig.digitizer().hasSecond()).toBe(false)
    expect(plain.received.some((command) => command.startsWith('TRAC'))).toBe(false)
    await rig.disconnect()
    const one = twoChannels(() => 0)
    one.script.set('TRAC:CAT?', () => '"CH1"')
    const other = await connected(one)
    expect(await other.digitizer().hasSecond()).toBe(false)
    await other.disconnect()
  })
})
