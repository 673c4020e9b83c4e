import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import type { Digitizer, RecordSettings } from '#main/core/ports.ts'
import type { ManagedRig } from '#main/rig/api/rig-manager.ts'
import { FakeInstrument } from './support/fake-instrument.ts'
import { clock, connected, failure, SETTINGS, until } from './support/rig-bench.ts'

let instrument: FakeInstrument
let rig: ManagedRig
let digitizer: Digitizer

beforeEach(async () => {
  instrument = new FakeInstrument()
  rig = await connected(instrument)
  digitizer = rig.digitizer()
})
afterEach(async () => {
  await rig.close()
  expect(instrument.listeners).toBe(0)
})

async function record(settings: RecordSettings = SETTINGS): ReturnType<Digitizer['read']> {
  await digitizer.configure(settings)
  await digitizer.arm()
  if (settings.trigger.source === 'bus') await digitizer.trigger()
  else if (settings.trigger.source === 'level') instrument.edge()
  return digitizer.read()
}

const LEVEL: RecordSettings = { ...SETTINGS, trigger: { source: 'level', levelV: 2.5, slope: 'rising' } }
const NOW: RecordSettings = { ...SETTINGS, preTriggerPoints: 0, trigger: { source: 'immediate' } }

describe('settings read back', () => {
  it.each(['1e300', '600', '4.9'])('refuses a range of %s V where 5 V was asked', async (answer) => {
    instrument.script.set('SENS:VOLT:RANG:UPP?', () => answer)
    const error = await failure(digitizer.configure(SETTINGS))
    expect(error.code).toBe('rig-unsuitable')
    expect(error.message).toContain('instead of 5 V')
  })
})

describe('settings read back twice', () => {
  it.each([
    ['2.0010E-05', '2E-05'],
    ['2.0010E-05', '2.0015E-05'],
  ])('as %s s and then %s s are not believed: a damaged digit must not become a time axis', async (...answers) => {
    instrument.script.set('SENS:SWE:TINT?', () => answers.shift() ?? '2E-05')
    expect(await failure(digitizer.configure(SETTINGS))).toMatchObject({
      code: 'rig-protocol',
      message: expect.stringContaining('the settings read back as') as string,
    })
    expect((await record()).trace.sampleRateHz).toBe(SETTINGS.sampleRateHz)
  })
})

describe('a record that was sent before', () => {
  it('is refused, with and without a checksum, and the next true one is taken', async () => {
    for (const headers of [instrument.headers, instrument.headers.filter((header) => !header.includes('CRC'))]) {
      await rig.close()
      instrument = new FakeInstrument()
      instrument.headers = headers
      rig = await connected(instrument)
      digitizer = rig.digitizer()
      const first = (await record()).trace.samples
      const { samples } = instrument
      instrument.samples = () => first as Int16Array
      expect(await failure(record())).toMatchObject({
        code: 'rig-protocol',
        message: expect.stringContaining('the record before this one again') as string,
      })
      expect(rig.state().losses).toBe(1)
      instrument.samples = samples
      expect((await record()).trace.samples).toEqual(samples(1000))
    }
  })

  it('is believed where every sample is the same: a dark input may give that', async () => {
    instrument.samples = (points) => new Int16Array(points).fill(3)
    await record()
    expect((await record()).trace.samples).toEqual(new Int16Array(1000).fill(3))
  })
})

describe('recording', () => {
  it.each([
    ['bus', SETTINGS],
    ['level', LEVEL],
    ['immediate', NOW],
  ] as const)('brings codes with the %s trigger', async (_, settings) => {
    const recording = await record(settings)
    expect(recording.trace).toMatchObject({
      format: 'int16',
      sampleRateHz: 50_000,
      scaleV: 5 / 32_768,
      offsetV: 0,
      rangeV: 5,
    })
    expect(recording.trace.samples).toEqual(instrument.samples(1000))
    expect(recording.triggerIndex).toBe(settings.preTriggerPoints)
    expect(rig.state()).toMatchObject({ status: 'ready', losses: 0 })
  })

  it('brings volts as reals', async () => {
    const { trace } = await record({ ...SETTINGS, transfer: 'real32' })
    expect(trace).toMatchObject({ format: 'real32', scaleV: 1, offsetV: 0 })
    const codes = instrument.samples(1000)
    expect(trace.samples[7]).toBeCloseTo(((codes[7] ?? 0) * 5) / 32_768, 6)
  })

  it('asks for the least significant byte first only where the order can be chosen', async () => {
    await record()
    expect(instrument.received).toContain('FORM:BORD SWAP')
    await rig.close()
    instrument = new FakeInstrument()
    instrument.headers = instrument.headers.filter((header) => !header.includes('BORDer'))
    rig = await connected(instrument)
    digitizer = rig.digitizer()
    const { trace } = await record()
    expect(instrument.received.some((command) => command.startsWith('FORM:BORD'))).toBe(false)
    expect(trace.samples).toEqual(instrument.samples(1000))
  })

  it('compares the checksum only where the rig has one', async () => {
    await record()
    expect(instrument.received).toContain('DIAG:DATA:CRC?')
    await rig.close()
    instrument = new FakeInstrument()
    instrument.headers = instrument.headers.filter((header) => !header.includes('CRC'))
    rig = await connected(instrument)
    digitizer = rig.digitizer()
    await record()
    expect(rig.state().capabilities?.crc).toBe(false)
    expect(instrument.received).not.toContain('DIAG:DATA:CRC?')
  })

  it('says that it records while it does', async () => {
    await digitizer.configure(SETTINGS)
    await digitizer.arm()
    expect(rig.state().status).toBe('recording')
    await digitizer.abort()
    expect(rig.state().status).toBe('ready')
    expect(instrument.received.at(-2)).toBe('ABOR')
  })

  it('does not send settings again that stand already', async () => {
    await record()
    const before = instrument.received.filter((command) => command.startsWith('SENS:SWE:POIN ')).length
    await record()
    await record({ ...SETTINGS, transferLimitS: 4 })
    expect(instrument.received.filter((command) => command.startsWith('SENS:SWE:POIN ')).length).toBe(before)
    await record({ ...SETTINGS, points: 2000 })
    expect(instrument.received.filter((command) => command.startsWith('SENS:SWE:POIN ')).length).toBe(before + 1)
  })

  it('takes a record of a clipped input, which the rig puts into its error queue, as any other', async () => {
    await digitizer.configure(SETTINGS)
    await digitizer.arm()
    await digitizer.trigger()
    instrument.errors.push('-231,"Data questionable;input beyond its range"')
    expect((await digitizer.read()).trace.samples.length).toBe(SETTINGS.points)
    expect((await record()).trace.samples.length).toBe(SETTINGS.points)
  })

  it('waits for a long record', async () => {
    instrument.pollsToRecord = 12
    expect((await record()).trace.samples.length).toBe(1000)
  })

  it('believes a rig that does not tie *OPC to its acquisitions when it is idle twice', async () => {
    instrument.script.set('*ESR?', () => '0')
    let polls = 0
    instrument.script.set('STAT:OPER:COND?', () => (polls++ < 3 ? '40' : '0'))
    expect((await record()).trace.samples.length).toBe(1000)
  })
})

describe('settings', () => {
  it('refuses a block that takes too long on the link, with the numbers', async () => {
    await rig.close()
    instrument.bytesPerSecond = 11_520
    rig = await connected(instrument)
    digitizer = rig.digitizer()
    instrument.received.length = 0
    const error = await failure(
      digitizer.configure({ ...SETTINGS, points: 50_000, transfer: 'real32', transferLimitS: 10 }),
    )
    expect(error.code).toBe('link-too-slow')
    expect(error.message).toContain('200012 bytes')
    expect(error.message).toContain('17.4 s')
    expect(error.message).toContain('11520 bytes/s')
    expect(error.message).toContain('10.0 s')
    expect(instrument.received).toEqual([])
    await digitizer.configure({ ...SETTINGS, points: 50_000, transferLimitS: 10 })
  })

  it("names the refused setting and the rig's own words", async () => {
    instrument.script.set('SENS:VOLT:RANG:UPP 90', () => {
      instrument.errors.push('-222,"Data out of range;90 V"')
      return null
    })
    const error = await failure(digitizer.configure({ ...SETTINGS, rangeV: 90 }))
    expect(error.code).toBe('rig-unsuitable')
    expect(error.message).toBe('The rig refused "SENS:VOLT:RANG:UPP 90": -222, "Data out of range;90 V".')
    expect((await record()).trace.samples.length).toBe(1000)
  })

  it('takes over what the rig rounds', async () => {
    instrument.script.set('SENS:VOLT:RANG:UPP?', () => '1.000000E+01')
    instrument.script.set('SENS:SWE:TINT?', () => '2.0010E-05')
    instrument.script.set('SENS:SWE:POIN?', () => '1000')
    instrument.script.set('SENS:SWE:OFFS:POIN?', () => '-96')
    const { trace, triggerIndex } = await record()
    expect(trace.rangeV).toBe(10)
    expect(trace.scaleV).toBe(10 / 32_768)
    expect(trace.sampleRateHz).toBeCloseTo(1 / 2.001e-5, 6)
    expect(triggerIndex).toBe(96)
  })

  it.each([
    ['SENS:SWE:TINT?', '1E-3', '1000.00 instead of 50000 samples/s'],
    ['SENS:SWE:POIN?', '512', '512 instead of 1000 samples'],
    ['SENS:SWE:OFFS:POIN?', '0', '0 instead of 100 samples before the trigger'],
    ['SENS:VOLT:RANG:UPP?', '1', 'a range of 1 V instead of 5 V'],
  ])('refuses what the rig would do instead (%s %s)', async (query, answer, words) => {
    instrument.script.set(query, () => answer)
    const error = await failure(digitizer.configure(SETTINGS))
    expect(error.code).toBe('rig-unsuitable')
    expect(error.message).toContain(words)
  })

  it.each([
    { points: 0 },
    { points: 1.5 },
    { preTriggerPoints: 1000 },
    { preTriggerPoints: -1 },
    { sampleRateHz: 0 },
    { rangeV: NaN },
  ])('refuses %o before anything is sent', async (wrong) => {
    instrument.received.length = 0
    expect((await failure(digitizer.configure({ ...SETTINGS, ...wrong }))).code).toBe('rig-unsuitable')
    expect(instrument.received).toEqual([])
  })

  it('refuses a level trigger on a rig without one', async () => {
    await rig.close()
    instrument.headers = instrument.headers.filter((header) => !header.includes('LEVel'))
    rig = await connected(instrument)
    const error = await failure(rig.digitizer().configure(LEVEL))
    expect(error.code).toBe('rig-unsuitable')
    expect(error.message).toContain('LEVel')
  })

  it('does not arm, trigger or read out of order', async () => {
    expect((await failure(digitizer.arm())).code).toBe('rig-unsuitable')
    expect((await failure(digitizer.read())).code).toBe('rig-unsuitable')
    await digitizer.configure(NOW)
    await digitizer.arm()
    expect((await failure(digitizer.trigger())).code).toBe('rig-unsuitable')
    const reading = digitizer.read()
    expect((await failure(digitizer.arm())).message).toContain('busy')
    await reading
  })
})

describe('losses', () => {
  const cases: readonly [string, 'rig-protocol' | 'rig-timeout', (message: Uint8Array) => readonly Uint8Array[]][] = [
    ['a length too short', 'rig-protocol', (message) => [replaced(message, '#42000', '#41998')]],
    ['a length too long', 'rig-protocol', (message) => [replaced(message, '#42000', '#42002')]],
    ['fewer bytes than announced', 'rig-protocol', (message) => [message.subarray(0, -41)]],
    [
      'more bytes than announced',
      'rig-protocol',
      (message) => [Buffer.concat([message.subarray(0, -1), Buffer.from('xx\n')])],
    ],
    ['a flipped byte', 'rig-protocol', (message) => [flipped(message, 1000)]],
    ['an indefinite block', 'rig-protocol', (message) => [replaced(message, '#42000', '#0')]],
    ['nothing', 'rig-timeout', () => []],
    ['a broken header', 'rig-protocol', (message) => [flipped(message, 4)]],
  ]
  it.each(cases)('rejects, counts and recovers after %s', async (_, code, spoil) => {
    await digitizer.configure(SETTINGS)
    await digitizer.arm()
    await digitizer.trigger()
    let spoiled = 0
    instrument.garble = (message) => {
      if (message.length < 2000 || spoiled > 0) return [message]
      spoiled += 1
      return spoil(message)
    }
    const error = await failure(digitizer.read())
    expect(error.code).toBe(code)
    expect(spoiled).toBe(1)
    expect(rig.state()).toMatchObject({ status: 'ready', losses: 1 })
    expect((await record()).trace.samples).toEqual(instrument.samples(1000))
    expect(rig.state().losses).toBe(1)
  })

  it('tells in the error what the rig reports itself', async () => {
    await digitizer.configure(SETTINGS)
    await digitizer.arm()
    await digitizer.trigger()
    instrument.script.set('FETC?', () => {
      instrument.errors.push('-230,"Data corrupt or stale"')
      return null
    })
    const error = await failure(digitizer.read())
    expect(error.code).toBe('rig-timeout')
    expect(error.message).toContain('-230, "Data corrupt or stale"')
  })

  it('takes noise between two questions for what it is', async () => {
    await record()
    instrument.babble(Buffer.from('\x00#15Hello\n0,"No error"\n'))
    expect((await record()).trace.samples).toEqual(instrument.samples(1000))
    expect(rig.state().losses).toBe(0)
  })

  it('takes every chunking of the whole conversation', async () => {
    let seed = 1
    instrument.garble = (message) => {
      const chunks: Uint8Array[] = []
      for (let at = 0; at < message.length;) {
        seed = (seed * 16_807) % 2_147_483_647
        const size = 1 + (seed % 97)
        chunks.push(message.slice(at, at + size))
        at += size
      }
      return chunks
    }
    for (const settings of [SETTINGS, LEVEL, NOW])
      expect((await record(settings)).trace.samples).toEqual(instrument.samples(1000))
  })

  it('refuses reals that are no numbers', async () => {
    instrument.script.set('FETC?', () => {
      const block = new Uint8Array(4000)
      new DataView(block.buffer).setFloat32(40, 9.91e37, true)
      return Buffer.concat([Buffer.from('#44000'), block])
    })
    instrument.script.set('DIAG:DATA:CRC?', () => String(crcOf(4000, 40)))
    const error = await failure(record({ ...SETTINGS, transfer: 'real32' }))
    expect(error.code).toBe('rig-protocol')
    expect(error.message).toContain('1 of 1000 samples')
  })

  it.each(['*ESR?', 'STAT:OPER:COND?', 'SYST:ERR?'])('recovers from rubbish as the answer to %s', async (query) => {
    await digitizer.configure(SETTINGS)
    let first = true
    const usual = instrument.script.get(query)
    instrument.script.set(query, () => {
      if (usual) instrument.script.set(query, usual)
      else instrument.script.delete(query)
      first = false
      return 'rubbish'
    })
    expect((await failure(digitizer.arm())).code).toBe('rig-protocol')
    expect(first).toBe(false)
    expect((await record()).trace.samples.length).toBe(1000)
  })
})

describe('time-outs and stopping', () => {
  it('reports a trigger level that no edge crosses, and is idle afterwards', async () => {
    await digitizer.configure(LEVEL)
    await digitizer.arm()
    const startedAt = clock.now()
    const error = await failure(digitizer.read())
    expect(error.code).toBe('rig-timeout')
    expect(error.message).toContain('no light edge')
    expect(clock.now() - startedAt).toBeLessThan(1)
    expect(rig.state()).toMatchObject({ status: 'ready', losses: 0 })
    expect(instrument.received.slice(-2)).toEqual(['ABOR', 'SYST:ERR?'])
  })

  it('reports a rig that does not confirm', async () => {
    await digitizer.configure(LEVEL)
    // Bit 1: settling, neither waiting nor recording.
    instrument.script.set('STAT:OPER:COND?', () => '2')
    const error = await failure(digitizer.arm())
    expect(error.code).toBe('rig-timeout')
    expect(error.message).toContain('did not confirm')
  })

  it('reports a record that does not end', async () => {
    instrument.pollsToRecord = 1e9
    const error = await failure(record())
    expect(error.code).toBe('rig-timeout')
    expect(error.message).toContain('did not end')
  })

  it('stops at once when cancelled while waiting, and records again', async () => {
    await digitizer.configure(LEVEL)
    await digitizer.arm()
    const controller = new AbortController()
    const reading = digitizer.read(controller.signal)
    void clock.sleep(0.02).then(() => controller.abort())
    expect((await failure(reading)).code).toBe('cancelled')
    await digitizer.abort()
    expect(rig.state().status).toBe('ready')
    expect((await record()).trace.samples.length).toBe(1000)
  })

  it('stops a running read by abort', async () => {
    await digitizer.configure(LEVEL)
    await digitizer.arm()
    const reading = failure(digitizer.read())
    await clock.sleep(0.02)
    await digitizer.abort()
    expect((await reading).code).toBe('cancelled')
    expect(rig.state().status).toBe('ready')
  })

  it('lets the rest of a block pass that was cancelled in the middle', async () => {
    await digitizer.configure(SETTINGS)
    await digitizer.arm()
    await digitizer.trigger()
    const controller = new AbortController()
    instrument.garble = (message) => {
      if (message.length < 2000) return [message]
      void clock.sleep(0.005).then(() => instrument.babble(message.subarray(800)))
      queueMicrotask(() => controller.abort())
      return [message.subarray(0, 800)]
    }
    expect((await failure(digitizer.read(controller.signal))).code).toBe('cancelled')
    instrument.garble = (message) => [message]
    await digitizer.abort()
    expect((await record()).trace.samples).toEqual(instrument.samples(1000))
    expect(rig.state().losses).toBe(0)
  })

  it('refuses to start with a signal that fired already', async () => {
    const signal = AbortSignal.abort()
    expect((await failure(digitizer.configure(SETTINGS, signal))).code).toBe('cancelled')
    await digitizer.configure(SETTINGS)
    expect((await failure(digitizer.arm(signal))).code).toBe('cancelled')
  })

  it('loses a rig that falls silent for good', async () => {
    await digitizer.configure(SETTINGS)
    await digitizer.arm()
    await digitizer.trigger()
    instrument.mute = true
    const error = await failure(digitizer.read())
    expect(error.code).toBe('rig-lost')
    expect(rig.state().status).toBe('lost')
    expect((await failure(digitizer.configure(SETTINGS))).code).toBe('rig-lost')
    instrument.mute = false
    await until(rig, (state) => state.status === 'ready')
    digitizer = rig.digitizer()
    expect((await record()).trace.samples.length).toBe(1000)
  })
})

function replaced(message: Uint8Array, from: string, to: string): Uint8Array {
  const at = Buffer.from(message).indexOf(from)
  return Buffer.concat([message.subarray(0, at), Buffer.from(to), message.subarray(at + from.length)])
}

function flipped(message: Uint8Array, at: number): Uint8Array {
  const copy = Uint8Array.from(message)
  copy[at] = (copy[at] ?? 0) ^ 0x40
  return copy
}

/** CRC-32 of a block of zeros with one not-a-number at an offset, computed bit by bit. */
function crcOf(length: number, at: number): number {
  const block = new Uint8Array(length)
  new DataView(block.buffer).setFloat32(at, 9.91e37, true)
  let crc = 0xffffffff
  for (const byte of block) {
    crc ^= byte
    for (let bit = 0; bit < 8; bit++) crc = crc & 1 ? (crc >>> 1) ^ 0xedb88320 : crc >>> 1
  }
  return ~crc >>> 0
}
