import { Instrument } from '#main/rig/simulated/instrument/instrument.ts'

export interface InstrumentRig {
  readonly instrument: Instrument
  /** Sends bytes and answers with everything that came back, as Latin-1 text. */
  ask(text: string): string
  /** Sends one message and answers without its NL. */
  line(message: string): string
  /** Moves the clock, with `advance` called whenever it is due. */
  wait(seconds: number): string
  /** All entries of the error queue. */
  errors(): number[]
  now(): number
  /** Volts at the terminal. */
  signal: (timeS: number) => number
}

/** An instrument alone, on a clock moved by hand, with a signal given as a function of time and no noise. */
export function instrumentRig(bits = 16): InstrumentRig {
  let now = 100
  let out = ''
  const rig: InstrumentRig = {
    signal: () => 1,
    instrument: new Instrument({
      input: {
        volts: (startS, stepS, count) => Float64Array.from({ length: count }, (_, i) => rig.signal(startS + i * stepS)),
        addNoise: () => undefined,
        knownUntil: (time) => time,
      },
      now: () => now,
      bits,
      serialNumber: 'T1',
      send: (bytes) => {
        out += Buffer.from(bytes).toString('latin1')
      },
    }),
    now: () => now,
    ask(text) {
      out = ''
      rig.instrument.receive(Uint8Array.from(text, (c) => c.charCodeAt(0)))
      return out
    },
    line: (message) => rig.ask(`${message}\n`).replace(/\n$/, ''),
    wait(seconds) {
      out = ''
      const end = now + seconds
      for (;;) {
        const wake = rig.instrument.nextWake()
        if (wake === null || wake > end) break
        now = Math.max(now, wake)
        rig.instrument.advance()
      }
      now = end
      rig.instrument.advance()
      return out
    },
    errors() {
      const numbers: number[] = []
      for (;;) {
        const number = Number(rig.line('SYST:ERR?').split(',')[0])
        if (number === 0) return numbers
        numbers.push(number)
      }
    },
  }
  return rig
}

/** A definite block: its bytes, checked against its header. */
export function blockBytes(answer: string): Uint8Array {
  const match = /^#([1-9])/.exec(answer)
  if (!match) throw new Error(`No block: ${answer.slice(0, 20)}`)
  const digits = Number(match[1])
  const length = Number(answer.slice(2, 2 + digits))
  const data = answer.slice(2 + digits)
  if (data.length !== length) throw new Error(`Announced ${length}, came ${data.length}.`)
  return Uint8Array.from(data, (c) => c.charCodeAt(0))
}
