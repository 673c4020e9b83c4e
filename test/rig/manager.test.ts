import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { createRig, type ManagedRig } from '#main/rig/api/rig-manager.ts'
import type { SimulatedInstrument } from '#main/rig/transport/link.ts'
import { AppError } from '#shared/domain/errors.ts'
import { rigTargetSchema, type RigState, type SimFault } from '#shared/domain/rig.ts'
import { block, FAKE_HEADERS, FakeInstrument } from './support/fake-instrument.ts'
import { clock, connected, failure, FAST, rigOn, SERIAL, SETTINGS, silentLog, until } from './support/rig-bench.ts'

let instrument: FakeInstrument
let rig: ManagedRig

beforeEach(() => {
  instrument = new FakeInstrument()
})
afterEach(async () => {
  await rig.close()
  expect(instrument.listeners).toBe(0)
})

describe('connecting', () => {
  it('introduces itself: quiet, *CLS, *IDN?, headers, self-test, each until two answers agree', async () => {
    rig = rigOn(instrument)
    const states: RigState[] = []
    rig.onState((state) => states.push(state))
    expect(rig.state().status).toBe('absent')
    await rig.connect(SERIAL)
    expect(instrument.received.join(' ')).toBe(
      '*CLS *IDN? *CLS *IDN? SYST:HELP:HEAD? SYST:HELP:HEAD? *TST? *TST? SYST:ERR?',
    )
    expect(states.map((state) => state.status)).toEqual(['connecting', 'ready'])
    expect(rig.state()).toEqual({
      status: 'ready',
      target: SERIAL,
      identity: { manufacturer: 'Example', model: 'Recorder 1', serial: '0001', firmware: '1.0' },
      capabilities: { headers: expect.arrayContaining(['*IDN?', ':FORMat:BORDer']), crc: true },
      problem: null,
      losses: 0,
    })
  })

  it('lets a board finish its greeting first', async () => {
    rig = rigOn(instrument)
    const connecting = rig.connect(SERIAL)
    for (let i = 0; i < 6; i++) {
      await clock.sleep(0.005)
      instrument.babble(Buffer.from(`boot ${i}\r\n`))
    }
    await connecting
    expect(rig.state().status).toBe('ready')
  })

  it('asks again when the first answer is rubbish', async () => {
    rig = rigOn(instrument)
    let asked = 0
    instrument.script.set('*IDN?', () => (asked++ === 0 ? '\x81\x07rubbish' : 'Example,Recorder 1,0001,1.0'))
    await rig.connect(SERIAL)
    expect(asked).toBe(3)
  })

  it.each([
    ['*IDN?', (text: string) => text.replace('Recorder 1', 'Recorder 9')],
    ['SYST:HELP:HEAD?', (text: string) => text.replace('DATA:CRC', 'DATA:CRS')],
    ['SYST:HELP:HEAD?', (text: string) => text.replace('SWEep:POINts', 'SWEEP:POUNTS')],
    ['*TST?', () => '1\n'],
  ])('is not misled by one damaged answer to %s', async (question, damage) => {
    rig = rigOn(instrument)
    let damaged = 0
    instrument.garble = (message) => {
      const last = instrument.received.at(-1)
      if (last !== question || damaged > 0) return [message]
      damaged += 1
      return [Buffer.from(damage(Buffer.from(message).toString('latin1')), 'latin1')]
    }
    await rig.connect(SERIAL)
    expect(damaged).toBe(1)
    expect(rig.state()).toMatchObject({
      identity: { manufacturer: 'Example', model: 'Recorder 1', serial: '0001', firmware: '1.0' },
      capabilities: { crc: true },
    })
  })

  it('gives up a rig that answers differently each time', async () => {
    rig = rigOn(instrument)
    let asked = 0
    instrument.script.set('*IDN?', () => `Example,Recorder ${asked++},0001,1.0`)
    expect(await failure(rig.connect(SERIAL))).toMatchObject({
      code: 'rig-protocol',
      message: expect.stringContaining('each time differently') as string,
    })
    expect(asked).toBe(5)
  })

  it.each([
    ['nested optional nodes', `${'[:SENS[:VOLT[:DC[:RANG[:UPP'.repeat(36)}${']'.repeat(180)}:X`],
    ['optional nodes in a row', `${'[SENS:][VOLT:][DC:][RANG:][UPP:]'.repeat(36)}X`],
    ['nodes without end', '[A]'.repeat(21_000)],
  ])('answers throughout while a header list of %s is read', async (_, hostile) => {
    instrument.headers = [hostile, ...FAKE_HEADERS]
    rig = rigOn(instrument)
    const begun = process.threadCpuUsage()
    await rig.connect(SERIAL)
    const { user, system } = process.threadCpuUsage(begun)
    expect(rig.state()).toMatchObject({ status: 'ready', capabilities: { crc: true } })
    // Half a minute before. Of processor time, for the whole handshake: the host is busy for no longer than that.
    expect((user + system) / 1e6).toBeLessThan(1)
  })

  it('refuses a header list longer than any, before it takes it in', async () => {
    rig = rigOn(instrument)
    instrument.script.set('SYST:HELP:HEAD?', () => block(new Uint8Array(70_000).fill(0x41)))
    expect(await failure(rig.connect(SERIAL))).toMatchObject({
      code: 'rig-protocol',
      message: expect.stringContaining('announces 70000 bytes, more than the 65536 that fit') as string,
    })
  })

  it.each([
    ['silence', () => (instrument.mute = true), 'nothing came back'],
    ['another language', () => instrument.script.set('*IDN?', () => 'OK'), 'answered with "OK"'],
    ['bytes at another rate', () => (instrument.garble = () => [Uint8Array.from([0x80, 0xf8, 0x00, 0x0a])]), '80h'],
  ])('says that nothing speaks SCPI after %s', async (_, arrange, words) => {
    arrange()
    rig = rigOn(instrument)
    const error = await failure(rig.connect(SERIAL))
    expect(error.code).toBe('rig-not-scpi')
    expect(error.message).toContain(words)
    expect(rig.state()).toMatchObject({ status: 'absent', problem: { message: error.message, remedy: error.remedy } })
    expect(instrument.plugged).toBe(false)
    expect((await failure(Promise.resolve().then(() => rig.digitizer()))).code).toBe('rig-absent')
  })

  it('gives up a line that is never quiet', async () => {
    rig = rigOn(instrument)
    const given = failure(rig.connect(SERIAL))
    for (let i = 0; i < 500; i++) {
      instrument.babble(Buffer.from('$GPGGA,1,2\r\n'))
      await clock.sleep(0.002)
    }
    expect((await given).code).toBe('rig-not-scpi')
  })

  it('names the headers a rig lacks', async () => {
    instrument.headers = FAKE_HEADERS.filter((header) => !/TINTerval|FETCh/.test(header))
    rig = rigOn(instrument)
    const error = await failure(rig.connect(SERIAL))
    expect(error.code).toBe('rig-unsuitable')
    expect(error.message).toContain('TINTerval')
    expect(error.message).toContain('FETCh')
    expect(error.message).not.toContain('POINts')
  })

  it('takes a rig without a header list on trust', async () => {
    instrument.script.set('SYST:HELP:HEAD?', () => {
      instrument.errors.push('-113,"Undefined header"')
      return null
    })
    rig = await connected(instrument)
    expect(rig.state().capabilities).toEqual({ headers: [], crc: false })
    const digitizer = rig.digitizer()
    await digitizer.configure(SETTINGS)
    await digitizer.arm()
    await digitizer.trigger()
    expect((await digitizer.read()).trace.samples).toEqual(instrument.samples(1000))
  })

  it('refuses a rig whose self-test fails, with its own words', async () => {
    instrument.script.set('*TST?', () => {
      instrument.errors.push('-330,"Self-test failed;reference"')
      return '1'
    })
    rig = rigOn(instrument)
    const error = await failure(rig.connect(SERIAL))
    expect(error.code).toBe('rig-unsuitable')
    expect(error.message).toContain('-330, "Self-test failed;reference"')
  })

  it.each(['rig-absent', 'rig-permission', 'rig-busy'] as const)(
    'passes on why the port does not open (%s)',
    async (code) => {
      rig = rigOn(instrument, { openSerial: () => Promise.reject(new AppError(code, 'No.', 'Do this.')) })
      expect((await failure(rig.connect(SERIAL))).code).toBe(code)
      expect(rig.state()).toMatchObject({ status: 'absent', problem: { message: 'No.', remedy: 'Do this.' } })
    },
  )

  it('ends when cancelled, from outside or by another connect or disconnect', async () => {
    instrument.mute = true
    rig = rigOn(instrument, { timings: { answerS: 5, silenceS: 5 } })
    const controller = new AbortController()
    const first = failure(rig.connect(SERIAL, controller.signal))
    await clock.sleep(0.03)
    controller.abort()
    expect((await first).code).toBe('cancelled')
    expect(rig.state()).toMatchObject({ status: 'absent', problem: null })
    const second = failure(rig.connect(SERIAL))
    await clock.sleep(0.03)
    instrument.mute = false
    await rig.connect(SERIAL)
    expect((await second).code).toBe('cancelled')
    expect(rig.state().status).toBe('ready')
    await rig.disconnect()
    expect(rig.state().status).toBe('absent')
    expect(instrument.plugged).toBe(false)
  })
})

describe('a pulled cable', () => {
  const moments = [
    ['*IDN?', 'rig-lost'],
    ['SYST:HELP:HEAD?', 'rig-lost'],
    ['*TST?', 'rig-lost'],
  ] as const
  it.each(moments)('ends connecting at %s', async (query, code) => {
    rig = rigOn(instrument)
    instrument.script.set(query, () => {
      instrument.unplug()
      return null
    })
    const error = await failure(rig.connect(SERIAL))
    expect(error.code).toBe(code)
    expect(error.message).toContain('the cable was pulled')
    expect(rig.state().status).toBe('absent')
  })

  const commands = [
    'SENS:SWE:POIN 1000',
    'SENS:SWE:TINT?',
    'INIT',
    'STAT:OPER:COND?',
    '*TRG',
    'FETC?',
    'DIAG:DATA:CRC?',
  ]
  it.each(commands)('ends a recording at %s; put back, the same rig records again by itself', async (command) => {
    rig = await connected(instrument)
    instrument.script.set(command, () => {
      instrument.unplug()
      return null
    })
    const digitizer = rig.digitizer()
    const error = await failure(
      (async () => {
        await digitizer.configure(SETTINGS)
        await digitizer.arm()
        await digitizer.trigger()
        await digitizer.read()
      })(),
    )
    expect(error.code).toBe('rig-lost')
    expect(rig.state()).toMatchObject({ status: 'lost', problem: { message: expect.stringContaining('pulled') } })
    expect((await failure(Promise.resolve().then(() => rig.digitizer()))).code).toBe('rig-lost')
    await digitizer.abort()
    instrument.script.delete(command)
    await until(rig, (state) => state.status === 'ready')
    const again = rig.digitizer()
    expect(again).not.toBe(digitizer)
    await again.configure(SETTINGS)
    await again.arm()
    await again.trigger()
    expect((await again.read()).trace.samples).toEqual(instrument.samples(1000))
    expect((await failure(digitizer.configure(SETTINGS))).code).toBe('rig-lost')
  })

  it('is noticed while idle, tried again until the port is back, and stays lost till then', async () => {
    let back = false
    rig = await connected(instrument, {
      openSerial: async () => {
        if (rig !== undefined && rig.state().status === 'lost' && !back) throw new AppError('rig-absent', 'Gone.')
        return instrument.plug()
      },
    })
    instrument.unplug()
    expect(rig.state().status).toBe('lost')
    await clock.sleep(0.15)
    expect(rig.state()).toMatchObject({ status: 'lost', target: SERIAL })
    back = true
    await until(rig, (state) => state.status === 'ready')
    expect(rig.state().problem).toBeNull()
  })

  it('does not go on with another rig at the same port', async () => {
    rig = await connected(instrument)
    instrument.script.set('*IDN?', () => 'Example,Recorder 1,0002,1.0')
    instrument.unplug()
    await until(rig, (state) => state.problem?.message.includes('Another rig') === true)
    expect(rig.state().status).toBe('lost')
    await rig.connect(SERIAL)
    expect(rig.state()).toMatchObject({ status: 'ready', identity: { serial: '0002' } })
  })

  it('ends the attempts on disconnect', async () => {
    let opened = 0
    rig = await connected(instrument, {
      openSerial: async () => {
        opened += 1
        if (opened > 1) throw new AppError('rig-absent', 'Gone.')
        return instrument.plug()
      },
    })
    instrument.unplug()
    await clock.sleep(0.1)
    await rig.disconnect()
    const attempts = opened
    expect(attempts).toBeGreaterThan(1)
    await clock.sleep(0.1)
    expect(opened).toBe(attempts)
    expect(rig.state().status).toBe('absent')
  })

  it('is noticed on a dead link too: an idle rig is asked for a sign of life', async () => {
    rig = await connected(instrument, { timings: { heartbeatS: 0.04 } })
    await clock.sleep(0.12)
    expect(instrument.received).toContain('*STB?')
    expect(rig.state().status).toBe('ready')
    instrument.mute = true
    await until(rig, (state) => state.status === 'lost')
    instrument.mute = false
    await until(rig, (state) => state.status === 'ready')
  })
})

describe('faults on command', () => {
  it('go to the simulated rig only', async () => {
    const faults: SimFault[] = []
    let disposed = 0
    const simulated: SimulatedInstrument = {
      open: async () => instrument.plug(),
      inject: async (fault) => {
        faults.push(fault)
        if (fault === 'unplug') instrument.unplug('unplugged on command')
      },
      dispose: async () => {
        disposed += 1
        instrument.unplug('it was disposed of')
      },
    }
    rig = createRig({
      clock,
      log: silentLog,
      timings: FAST,
      openSerial: async () => instrument.plug(),
      listSerialPorts: async () => [{ path: '/dev/example', label: 'Example' }],
      openSimulated: async () => simulated,
    })
    expect((await failure(rig.inject('stall'))).code).toBe('conflict')
    await rig.connect(rigTargetSchema.parse({ kind: 'simulated' }))
    await rig.inject('clipped')
    await rig.inject('unplug')
    expect(rig.state().status).toBe('lost')
    await rig.inject('replug')
    await until(rig, (state) => state.status === 'ready')
    expect(faults).toEqual(['clipped', 'unplug', 'replug'])
    expect(disposed).toBe(0)
    await rig.connect(SERIAL)
    expect(disposed).toBe(1)
    expect((await failure(rig.inject('stall'))).code).toBe('conflict')
    expect(await rig.ports()).toEqual([{ path: '/dev/example', label: 'Example' }])
  })

  it('reach a simulated rig on a pseudo-terminal through its control socket', async () => {
    const sent: unknown[] = []
    rig = rigOn(instrument, { injectAtSocket: async (...args) => void sent.push(args) })
    await rig.connect({ kind: 'serial', path: '/dev/example', baudRate: 9600, controlPath: '/run/example.sock' })
    await rig.inject('stall')
    expect(sent).toEqual([['/run/example.sock', 'stall']])
  })
})
