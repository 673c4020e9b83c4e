/** A luminance meter and a power analyser that share no code with ours: scripted bytes, TCP, and a pseudo-terminal. */
import { createReadStream, createWriteStream } from 'node:fs'
import { createServer, type Server, type Socket } from 'node:net'
import { afterEach, describe, expect, it } from 'vitest'
import { createClock } from '#main/platform/clock.ts'
import { createMeters } from '#main/rig/api/scpi-meter.ts'
import { openSerial } from '#main/rig/transport/serial.ts'
import { meterAt, type MeterReading } from '#shared/domain/meter.ts'
import { SILENT } from '../support/bench-core.ts'
import { openPtyPair, SKIP_PTY } from './support/pty.ts'

/** What the instrument sends for a line, in the pieces it sends it; nothing for no answer. */
type Script = (line: string) => readonly string[]
const IDENTITY = 'Invented works,Luminance meter,17,1.0\n'

const meter = (measured: readonly string[], errors: readonly string[] = []): Script => {
  const queue = [...errors]
  return (line) => {
    if (line === '*IDN?') return [IDENTITY]
    if (/^MEAS/i.test(line)) return measured
    if (line === 'SYST:ERR?') return [`${queue.shift() ?? '0,"No error"'}\n`]
    return []
  }
}

function answering(script: Script, send: (text: string) => void): (chunk: Buffer) => void {
  let text = ''
  return (chunk) => {
    text += chunk.toString('latin1')
    const lines = text.split('\n')
    text = lines.pop() ?? ''
    for (const line of lines) for (const piece of script(line.trim())) send(piece)
  }
}

let server: Server | null = null
let sockets: Socket[] = []
afterEach(async () => {
  for (const socket of sockets) socket.destroy()
  sockets = []
  await new Promise<void>((resolve) => (server === null ? resolve() : server.close(() => resolve())))
  server = null
})

async function listening(script: Script): Promise<number> {
  const made = createServer((socket) => {
    sockets.push(socket)
    socket.on('error', () => undefined)
    socket.on(
      'data',
      answering(script, (text) => void socket.write(text)),
    )
  })
  server = made
  await new Promise<void>((resolve) => made.listen(0, '127.0.0.1', resolve))
  const address = made.address()
  return typeof address === 'object' && address !== null ? address.port : 0
}

const timings = { answerS: 0.3, silenceS: 0.2, quietS: 0.02, drainS: 0.5 }
const meters = createMeters({ clock: createClock(), log: SILENT, openSerial, timings })
const read = async (script: Script, query = 'MEAS?'): Promise<MeterReading> =>
  meters.read({ kind: 'tcp', host: '127.0.0.1', port: await listening(script) }, query)

describe('a meter behind TCP', () => {
  it.each([
    [['+2.00300000E+02\n'], 200.3],
    [['2.', '5E', '-1\r\n'], 0.25],
    [['0\n'], 0],
  ])('that sends %j reads %d', async (pieces, value) => {
    expect(await read(meter(pieces))).toEqual({ value, identity: IDENTITY.trim() })
  })

  it('is a power analyser with its own query', async () => {
    const asked: string[] = []
    const analyser = meter(['2.741E1\n'])
    const script: Script = (line) => {
      asked.push(line)
      return analyser(line)
    }
    expect((await read(script, 'MEAS:POW?')).value).toBe(27.41)
    expect(asked).toEqual(['*CLS', '*IDN?', 'MEAS:POW?', 'SYST:ERR?'])
  })

  it.each([
    ['no answer', [], [], 'rig-timeout', /The meter took too long: no answer/],
    ['garbage', ['hello world\n'], [], 'rig-protocol', /"hello world" is not a number/],
    ['half an answer', ['2.0'], [], 'rig-timeout', /broke off/],
    ['too much light', ['9.9E37\n'], [], 'rig-unsuitable', /beyond the meter’s range/],
    ['too much, negative', ['-9.9E+37\n'], [], 'rig-unsuitable', /beyond the meter’s range/],
    ['no number', ['9.91E37\n'], [], 'rig-unsuitable', /no number/],
    ['an error', ['1.0\n'], ['-113,"Undefined header"', '-222,"Data out of range"'], 'rig-unsuitable', /-113.*-222/],
  ] as const)('that has %s is refused', async (_name, pieces, errors, code, message) => {
    await expect(read(meter(pieces, errors))).rejects.toMatchObject({
      code,
      message: expect.stringMatching(message) as string,
    })
  })

  it('that answers an earlier question late is told apart from it: its identity is asked again', async () => {
    const fresh = meter(['12\n'])
    let opened = false
    const late: Script = (line) => {
      const begun = opened
      opened = true
      return begun ? fresh(line) : ['999\n', ...fresh('*IDN?')]
    }
    expect(await read(late)).toEqual({ value: 12, identity: IDENTITY.trim() })
  })

  it('is asked for nothing but a measurement', async () => {
    for (const query of ['*RST', 'SYST:COMM 1', 'MEAS?;*RST', 'MEAS?\n*RST', 'OUTP ON', '']) {
      // oxlint-disable-next-line no-await-in-loop
      await expect(read(meter(['1\n']), query)).rejects.toMatchObject({ code: 'invalid-input' })
    }
  })

  it('that is not there, or hangs up, is told', async () => {
    const port = await listening(() => [])
    await new Promise<void>((resolve) => server?.close(() => resolve()))
    server = null
    await expect(meters.read({ kind: 'tcp', host: '127.0.0.1', port }, 'MEAS?')).rejects.toMatchObject({
      code: 'rig-absent',
    })
    const leaving: Script = (line) => {
      if (line.startsWith('MEAS')) for (const socket of sockets) socket.destroy()
      return line === '*IDN?' ? [IDENTITY] : []
    }
    await expect(read(leaving)).rejects.toMatchObject({ code: 'rig-lost' })
  })
})

describe.skipIf(SKIP_PTY)('a meter on a serial line', () => {
  it('is read through a pseudo-terminal', async () => {
    const pair = await openPtyPair()
    const output = createWriteStream(pair.far)
    const input = createReadStream(pair.far)
    input.on('error', () => undefined)
    output.on('error', () => undefined)
    try {
      const receive = answering(meter(['1.2', '05E2\n']), (text) => void output.write(text))
      input.on('data', (chunk) => receive(chunk as Buffer))
      expect(await meters.read({ kind: 'serial', path: pair.host, baudRate: 115_200 }, 'MEAS?')).toEqual({
        value: 120.5,
        identity: IDENTITY.trim(),
      })
    } finally {
      output.destroy()
      input.destroy()
      await pair.pull()
    }
  })
})

it('where a meter is, in words', () => {
  expect(meterAt('tcp://10.0.0.7')).toEqual({ kind: 'tcp', host: '10.0.0.7', port: 5025 })
  expect(meterAt('tcp://meter.lab:1234')).toEqual({ kind: 'tcp', host: 'meter.lab', port: 1234 })
  expect(meterAt('/dev/ttyUSB0,19200')).toEqual({ kind: 'serial', path: '/dev/ttyUSB0', baudRate: 19_200 })
  expect(meterAt('COM3')).toEqual({ kind: 'serial', path: 'COM3', baudRate: 9600 })
  for (const text of ['', 'tcp://a:99999', '/dev/x,fast'])
    expect(() => meterAt(text)).toThrow(/does not say where the meter is/)
})
