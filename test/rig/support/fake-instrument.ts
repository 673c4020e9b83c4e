import type { ByteLink } from '#main/rig/transport/link.ts'
import { crc32 } from '#main/core/crc32.ts'

export const FAKE_HEADERS = [
  '*IDN?/qonly/',
  ':ABORt/nquery/',
  ':FETCh[:VOLTage][:DC]?/qonly/',
  ':FORMat[:DATA]',
  ':FORMat:BORDer',
  ':INITiate[:IMMediate]/nquery/',
  ':INITiate:CONTinuous',
  '[:SENSe]:SWEep:OFFSet:POINts',
  '[:SENSe]:SWEep:POINts',
  '[:SENSe]:SWEep:TINTerval',
  '[:SENSe]:VOLTage[:DC]:RANGe[:UPPer]',
  ':STATus:OPERation:CONDition?/qonly/',
  ':SYSTem:ERRor[:NEXT]?/qonly/',
  ':TRIGger:LEVel',
  ':TRIGger:SLOPe',
  ':TRIGger:SOURce',
  ':DIAGnostic:DATA:CRC?/qonly/',
]

export type Answer = string | Uint8Array | null

/** Wraps bytes as a definite-length block without the line end. */
export function block(bytes: Uint8Array): Uint8Array {
  const digits = String(bytes.length)
  return Buffer.concat([Buffer.from(`#${digits.length}${digits}`), bytes])
}

/**
 * A scripted instrument at the far end of a link in memory. It knows just enough SCPI to record; `script` overrides the
 * answer to any single command (null: silence), `garble` changes whole response messages on their way out.
 */
export class FakeInstrument {
  readonly received: string[] = []
  readonly errors: string[] = []
  readonly script = new Map<string, (command: string) => Answer>()
  garble: (message: Uint8Array) => readonly Uint8Array[] = (message) => [message]
  mute = false
  bytesPerSecond: number | null = null
  headers: readonly string[] = FAKE_HEADERS
  settings: Record<string, string> = {}
  /** Acquisitions started; no two records are alike. */
  started = 0
  samples = (points: number): Int16Array =>
    Int16Array.from({ length: points }, (_, i) => ((i + 7 * this.started) % 2000) - 1000)
  /** Polls of the acquisition state after the trigger until the record is complete. */
  pollsToRecord = 1
  /** Listeners that are attached to present and former links. */
  listeners = 0
  #state: 'idle' | 'waiting' | 'recording' = 'idle'
  #polls = 0
  #event = 0
  #lastBlock: Uint8Array = new Uint8Array(0)
  #partial = ''
  #unplug: ((reason: string) => void) | null = null
  #deliver: ((bytes: Uint8Array) => void) | null = null

  get plugged(): boolean {
    return this.#unplug !== null
  }

  /** A new link to this instrument, as when its cable is plugged in. */
  plug(): ByteLink {
    const data = new Set<(chunk: Uint8Array) => void>()
    const close = new Set<(reason: string) => void>()
    let ended: string | null = null
    const end = (reason: string): void => {
      if (ended !== null) return
      ended = reason
      this.#unplug = null
      this.#deliver = null
      this.#state = 'idle'
      for (const listener of close) listener(reason)
    }
    const add = <T>(set: Set<T>, listener: T): (() => void) => {
      set.add(listener)
      this.listeners += 1
      return () => {
        if (set.delete(listener)) this.listeners -= 1
      }
    }
    this.#unplug = end
    this.#deliver = (bytes) => {
      for (const listener of data) listener(bytes)
    }
    this.#partial = ''
    const bytesPerSecond = this.bytesPerSecond
    return {
      bytesPerSecond,
      write: async (bytes) => {
        if (ended !== null) throw new Error(ended)
        const text = Buffer.from(bytes).toString('latin1')
        queueMicrotask(() => this.#receive(text))
      },
      onData: (listener) => add(data, listener),
      onClose: (listener) => {
        if (ended !== null) queueMicrotask(() => listener(ended ?? ''))
        return add(close, listener)
      },
      close: async () => end('it was closed'),
    }
  }

  unplug(reason = 'the cable was pulled'): void {
    this.#unplug?.(reason)
  }

  /** Sends bytes nobody asked for. */
  babble(bytes: Uint8Array): void {
    this.#deliver?.(bytes)
  }

  #receive(text: string): void {
    this.#partial += text
    for (;;) {
      const end = this.#partial.indexOf('\n')
      if (end < 0) return
      const line = this.#partial.slice(0, end)
      this.#partial = this.#partial.slice(end + 1)
      this.#message(line)
    }
  }

  #message(line: string): void {
    const answers: Uint8Array[] = []
    let silent = false
    for (const part of line.split(';')) {
      const command = part.trim().replace(/^:/, '')
      if (command === '') continue
      this.received.push(command)
      const answer = (this.script.get(command) ?? ((text) => this.#command(text)))(command)
      if (answer === null && command.endsWith('?')) silent = true
      if (answer !== null) answers.push(typeof answer === 'string' ? Buffer.from(answer, 'latin1') : answer)
    }
    if (silent || answers.length === 0 || this.mute) return
    const joined = answers.flatMap((answer, i) => (i === 0 ? [answer] : [Buffer.from(';'), answer]))
    for (const chunk of this.garble(Buffer.concat([...joined, Buffer.from('\n')]))) this.#deliver?.(chunk)
  }

  #command(command: string): Answer {
    const [header = '', parameter] = command.split(/ (.*)/s)
    if (parameter !== undefined) {
      this.settings[header] = parameter
      return null
    }
    switch (command) {
      case '*CLS':
        this.errors.length = 0
        this.#event = 0
        return null
      case '*OPC':
      case '*RST':
        return null
      case '*IDN?':
        return 'Example,Recorder 1,0001,1.0'
      case '*TST?':
        return '0'
      case '*STB?':
        return '0'
      case '*TRG':
        if (this.#state === 'waiting') this.#state = 'recording'
        else this.errors.push('-211,"Trigger ignored"')
        return null
      case '*ESR?':
        return this.#takeEvent()
      case 'ABOR':
        this.#state = 'idle'
        return null
      case 'INIT':
        this.#state = this.settings['TRIG:SOUR'] === 'IMM' ? 'recording' : 'waiting'
        this.#polls = 0
        this.started += 1
        return null
      case 'SYST:ERR?':
        return this.errors.shift() ?? '0,"No error"'
      case 'SYST:HELP:HEAD?':
        return block(Buffer.from(`${this.headers.join('\n')}\n`))
      case 'STAT:OPER:COND?':
        return String({ idle: 0, waiting: 32 | 8, recording: 16 | 8 }[this.#state])
      case 'FETC?':
        return this.#fetch()
      case 'DIAG:DATA:CRC?':
        return String(crc32(this.#lastBlock))
      default:
        if (command.endsWith('?') && this.settings[command.slice(0, -1)] !== undefined)
          return this.settings[command.slice(0, -1)] ?? ''
        this.errors.push(`-113,"Undefined header;${command}"`)
        return null
    }
  }

  /** Lets the level trigger see its edge. */
  edge(): void {
    if (this.#state === 'waiting' && this.settings['TRIG:SOUR'] === 'INT') this.#state = 'recording'
  }

  #takeEvent(): string {
    if (this.#state === 'recording') {
      this.#polls += 1
      if (this.#polls > this.pollsToRecord) {
        this.#state = 'idle'
        this.#event |= 1
      }
    }
    const event = this.#event
    this.#event = 0
    return String(event)
  }

  #fetch(): Uint8Array {
    const codes = this.samples(Number(this.settings['SENS:SWE:POIN']))
    const little = this.settings['FORM:BORD'] === 'SWAP'
    const real = this.settings['FORM:DATA'] === 'REAL,32'
    const bytes = new Uint8Array(codes.length * (real ? 4 : 2))
    const view = new DataView(bytes.buffer)
    const range = Number(this.settings['SENS:VOLT:RANG:UPP'])
    codes.forEach((code, i) => {
      if (real) view.setFloat32(4 * i, (code * range) / 32_768, little)
      else view.setInt16(2 * i, code, little)
    })
    this.#lastBlock = bytes
    return block(bytes)
  }
}
