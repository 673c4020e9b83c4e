import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { createRig, type ManagedRig } from '#main/rig/api/rig-manager.ts'
import { listSerialPorts, openSerial } from '#main/rig/transport/serial.ts'
import { serialOpenError } from '#main/rig/transport/serial-errors.ts'
import type { ByteLink } from '#main/rig/transport/link.ts'
import { FakeInstrument } from './support/fake-instrument.ts'
import { join2, openPtyPair, type PtyPair, SKIP_PTY } from './support/pty.ts'
import { realClock as clock, failure, FAST, SETTINGS, silentLog, until } from './support/rig-bench.ts'

describe('why a port does not open', () => {
  it.each([
    ['Error: No such file or directory, cannot open /dev/ttyACM9', 'rig-absent'],
    ['Error: Permission denied, cannot open /dev/ttyACM0', 'rig-permission'],
    ['Error: Operation not permitted, cannot open /dev/ttyACM0', 'rig-permission'],
    ['Error: Device or resource busy, cannot open /dev/ttyACM0', 'rig-busy'],
    ['Error Resource temporarily unavailable Cannot lock port', 'rig-busy'],
    ['Error: Input/output error, cannot open /dev/ttyS3', 'rig-absent'],
    ['Error: Inappropriate ioctl for device, cannot open /dev/null', 'rig-unsuitable'],
    ['Something else', 'rig-absent'],
  ])('%s', (words, code) => {
    const error = serialOpenError('/dev/ttyACM0', new Error(words), 'linux')
    expect(error.code).toBe(code)
    expect(error.message).toContain('/dev/ttyACM0')
    expect(error.remedy).not.toBe('')
  })
  it('says how to get permission on Linux', () => {
    const { remedy } = serialOpenError('/dev/ttyUSB0', new Error('Permission denied'), 'linux')
    for (const words of ['60-slewlight.rules', 'dialout', 'uucp', 'log out']) expect(remedy).toContain(words)
  })
  it('knows that Windows calls a port in use denied', () => {
    expect(serialOpenError('COM3', new Error('Opening COM3: Access denied'), 'win32').code).toBe('rig-busy')
    expect(serialOpenError('COM3', new Error('Opening COM3: File not found'), 'win32').code).toBe('rig-absent')
  })
  it('goes by the code where there is one', () => {
    const coded = Object.assign(new Error('x'), { code: 'EACCES' })
    expect(serialOpenError('/dev/x', coded, 'linux').code).toBe('rig-permission')
  })
})

describe('the real serial port code', () => {
  it('lists ports without failing', async () => {
    expect(Array.isArray(await listSerialPorts())).toBe(true)
  })
  it.runIf(process.platform === 'linux')('reports what is no port', async () => {
    expect((await failure(openSerial('/dev/slewlight-is-not-here', 115_200))).code).toBe('rig-absent')
    expect((await failure(openSerial('/dev/null', 115_200))).code).toBe('rig-unsuitable')
  })
})

describe.skipIf(SKIP_PTY)('over a pseudo-terminal', () => {
  let pair: PtyPair
  let instrument: FakeInstrument
  let far: ByteLink
  let rig: ManagedRig

  beforeEach(async () => {
    pair = await openPtyPair()
    instrument = new FakeInstrument()
    far = await openSerial(pair.far, 921_600)
    join2(far, instrument.plug())
    rig = createRig({
      clock,
      log: silentLog,
      openSerial,
      listSerialPorts,
      openSimulated: () => Promise.reject(new Error('not here')),
      // A pseudo-terminal on a busy machine is slower than memory.
      timings: { ...FAST, answerS: 1, silenceS: 1, quietS: 0.03 },
    })
  })
  afterEach(async () => {
    await rig.close()
    await far.close()
    await pair.pull()
  })

  function connect(): Promise<void> {
    return rig.connect({ kind: 'serial', path: pair.host, baudRate: 921_600 })
  }

  it('carries all 256 byte values both ways', async () => {
    await connect()
    instrument.samples = (points) => Int16Array.from({ length: points }, (_, i) => (i * 257) % 65_536)
    const digitizer = rig.digitizer()
    for (const transfer of ['int16', 'real32'] as const) {
      await digitizer.configure({ ...SETTINGS, points: 15_000, transfer })
      await digitizer.arm()
      await digitizer.trigger()
      const { trace } = await digitizer.read()
      expect(trace.samples.length).toBe(15_000)
      if (transfer === 'int16') expect(trace.samples).toEqual(instrument.samples(15_000))
    }
    expect(rig.state()).toMatchObject({ status: 'ready', losses: 0 })
  })

  it('is refused while another holds it', async () => {
    await connect()
    const error = await failure(openSerial(pair.host, 115_200))
    expect(error.code).toBe('rig-busy')
    expect(rig.state().status).toBe('ready')
  })

  it('notices a pulled cable while idle', async () => {
    await connect()
    await pair.pull()
    await until(rig, (state) => state.status === 'lost')
    expect(rig.state().problem?.message).toContain('The connection to the rig ended')
  })

  it('notices a cable pulled in the middle of a block', async () => {
    await connect()
    const digitizer = rig.digitizer()
    await digitizer.configure(SETTINGS)
    await digitizer.arm()
    await digitizer.trigger()
    const pulled: Promise<void>[] = []
    instrument.garble = (message) => {
      if (message.length < 2000) return [message]
      pulled.push(clock.sleep(0.05).then(() => pair.pull()))
      return [message.subarray(0, 900)]
    }
    const error = await failure(digitizer.read())
    expect(error.code).toBe('rig-lost')
    await Promise.all(pulled)
    expect(rig.state().status).toBe('lost')
  })

  it('closes for good: nothing keeps the port', async () => {
    await connect()
    await rig.disconnect()
    const again = await openSerial(pair.host, 9600)
    const reasons: string[] = []
    again.onClose((reason) => reasons.push(reason))
    await again.close()
    await again.close()
    again.onClose((reason) => reasons.push(reason))
    await clock.sleep(0)
    expect(reasons).toEqual(['it was closed', 'it was closed'])
    expect((await failure(again.write(Buffer.from('x')))).code).toBe('rig-lost')
    await connect()
  })
})

describe.skipIf(SKIP_PTY)('a far end that takes nothing', () => {
  it('is lost when a write does not get through', async () => {
    const pair = await openPtyPair()
    try {
      const link = await openSerial(pair.host, 12_000_000)
      const reasons: string[] = []
      link.onClose((reason) => reasons.push(reason))
      // Nobody reads at the far end: the terminals fill, then the write hangs.
      const error = await failure(link.write(new Uint8Array(200_000)))
      expect(error.code).toBe('rig-lost')
      expect(reasons).toEqual(['it takes no more bytes'])
      await link.close()
    } finally {
      await pair.pull()
    }
  })
})
