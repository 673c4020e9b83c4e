/**
 * A digitizer as an SCPI-1999 / IEEE 488.2 instrument: bytes in, bytes out, time handed in. It starts no timers: its
 * owner calls `advance` when `nextWake` says so and after every change of the signal.
 *
 * Two choices the standards leave to a serial instrument, which has no bus to clear it by: an answer of several units
 * is sent when its message ends, and a message that begins with ABORt or *RST is acted on even while an earlier query
 * waits for a trigger; that query is dropped with −410.
 */
import { Acquisition, type AnalogInput } from './acquisition.ts'
import { complete, COMMON_COMMANDS } from './commands-common.ts'
import { MEASURE_COMMANDS } from './commands-measure.ts'
import { INITIAL_SERIAL, STATUS_COMMANDS } from './commands-status.ts'
import { initialSettings, type Command, type Context, type Pending, type Response } from './context.ts'
import { definiteBlock } from './data-format.ts'
import { compilePattern, matchHeader, type PatternNode } from './header-tree.ts'
import { noParameter } from './parameters.ts'
import { ProgramInput } from './program-input.ts'
import { parseUnit, splitUnits, type HeaderNode, type ProgramUnit } from './program-parser.ts'
import { ScpiError } from './scpi-error.ts'
import { ESR, Status } from './status.ts'

export interface InstrumentOptions {
  readonly input: AnalogInput
  readonly now: () => number
  readonly bits: number
  readonly serialNumber: string
  /** Told when the trigger output is pulsed. */
  readonly onPulse?: (atS: number) => void
  /** Takes the bytes of one whole response message. */
  readonly send: (bytes: Uint8Array) => void
}

interface Entry {
  readonly command: Command
  readonly nodes: readonly PatternNode[]
  readonly common: boolean
}

const ENTRIES: readonly Entry[] = [...COMMON_COMMANDS, ...STATUS_COMMANDS, ...MEASURE_COMMANDS].map((command) => ({
  command,
  nodes: compilePattern(command.pattern.replace('*', '')),
  common: command.pattern.startsWith('*'),
}))

/** Program messages that may wait behind one that cannot go on. */
const WAITING_MESSAGES = 256

interface RunningMessage {
  readonly units: string[]
  path: readonly HeaderNode[]
  readonly answers: Response[]
  indefinite: boolean
}

export class Instrument {
  readonly acquisition: Acquisition
  readonly #options: InstrumentOptions
  readonly #status = new Status()
  readonly #context: Context
  readonly #input = new ProgramInput()
  readonly #messages: string[] = []
  #running: RunningMessage | null = null
  #pending: Pending | null = null
  #spoil: ((bytes: Uint8Array) => Uint8Array) | null = null

  constructor(options: InstrumentOptions) {
    this.#options = options
    this.acquisition = new Acquisition(options.input, this.#status, options.bits)
    this.#context = {
      status: this.#status,
      acquisition: this.acquisition,
      identity: `Slewlight,Simulated digitizer,${options.serialNumber},1`,
      settings: initialSettings(),
      serial: INITIAL_SERIAL,
      completionWanted: false,
      lastCrc: null,
      blockOf: (bytes) => this.#block(bytes),
      now: options.now,
      pulsed: (atS) => options.onPulse?.(atS),
      messageAvailable: () => (this.#running?.answers.length ?? 0) > 0,
      headers: listHeaders,
    }
  }

  /** Bytes from the host, cut anywhere. */
  receive(chunk: Uint8Array): void {
    for (const event of this.#input.push(chunk)) {
      if (event.kind === 'overrun') this.#status.push(-363)
      else if (this.#pending !== null && /^ *(?::?abor|\*rst)/i.test(event.text)) this.#interrupt(event.text)
      else if (this.#messages.length < WAITING_MESSAGES) this.#messages.push(event.text)
      else this.#status.push(-363)
    }
    this.#run()
  }

  /** Does what is due, and goes on with a command that waited for it. */
  advance(): void {
    this.acquisition.advance(this.#options.now())
    this.#noteCompletion()
    this.#run()
  }

  /** Clock time of the next `advance` that is needed; null when none is. */
  nextWake(): number | null {
    return this.acquisition.nextWake(this.#options.now())
  }

  /** An edge at the external trigger input. */
  externalTrigger(): void {
    this.acquisition.trigger('EXT', this.#options.now())
    this.advance()
  }

  /** The cable was pulled: half a message is forgotten, settings and acquisition stay. */
  disconnected(): void {
    this.#input.clear()
    this.#messages.length = 0
    this.#running = null
    this.#pending = null
  }

  /** The next data block is passed through a fault; null ends it. */
  spoilNextBlock(spoil: ((block: Uint8Array) => Uint8Array) | null): void {
    this.#spoil = spoil
  }

  #block(bytes: Uint8Array): Uint8Array {
    const block = definiteBlock(bytes)
    const spoil = this.#spoil
    this.#spoil = null
    return spoil ? spoil(block) : block
  }

  #interrupt(text: string): void {
    this.#status.push(-410, this.#pending?.what ?? '')
    this.#pending = null
    this.#running = null
    this.#messages.length = 0
    this.#messages.push(text)
  }

  #noteCompletion(): void {
    if (!this.#context.completionWanted || !complete(this.#context)) return
    this.#context.completionWanted = false
    this.#status.event |= ESR.operationComplete
  }

  #run(): void {
    for (;;) {
      this.acquisition.advance(this.#options.now())
      this.#noteCompletion()
      if (this.#pending !== null) {
        if (!this.#pending.ready()) return
        const pending = this.#pending
        this.#pending = null
        this.#guard(() => {
          const answer = pending.answer()
          if (answer !== null) this.#running?.answers.push(answer)
        })
      } else if (this.#running === null) {
        const text = this.#messages.shift()
        if (text === undefined) return
        this.#running = { units: splitUnits(text), path: [], answers: [], indefinite: false }
      } else this.#step(this.#running)
    }
  }

  #step(running: RunningMessage): void {
    const unit = running.units.shift()
    if (unit === undefined) {
      this.#running = null
      if (running.answers.length > 0) this.#options.send(joinAnswers(running.answers))
      return
    }
    this.#guard(() => {
      const parsed = parseUnit(unit)
      if (parsed) this.#execute(running, parsed)
    })
  }

  /** A command error ends its message, since what follows may have been meant to depend on it; others do not. */
  #guard(work: () => void): void {
    try {
      work()
    } catch (error) {
      if (!(error instanceof ScpiError)) throw error
      this.#status.push(error.code, error.info)
      if (error.code <= -100 && error.code > -200) this.#running?.units.splice(0)
    }
  }

  #execute(running: RunningMessage, unit: ProgramUnit): void {
    const { command } = this.#find(running, unit)
    const handler = unit.query ? command.query : command.set
    if (!handler) throw new ScpiError(-113, unit.text.slice(0, 60))
    if (!unit.query) {
      if (handler.length < 2) noParameter(unit.parameters)
      this.#pending = command.set?.(this.#context, unit.parameters) ?? null
      this.#noteCompletion()
      return
    }
    if (running.indefinite) throw new ScpiError(-440)
    if (handler.length < 2) noParameter(unit.parameters)
    running.indefinite = command.indefinite === true
    const answer = command.query?.(this.#context, unit.parameters)
    if (typeof answer === 'string' || answer instanceof Uint8Array) running.answers.push(answer)
    else this.#pending = answer ?? null
  }

  /** Header path rules of SCPI-1999 Volume 1, 6.2.4: a header without colon continues where the one before stood. */
  #find(running: RunningMessage, unit: ProgramUnit): Entry {
    const bases = unit.common || unit.absolute ? [[]] : [running.path]
    let wrongSuffix = false
    for (const base of bases) {
      const nodes = [...base, ...unit.nodes]
      for (const entry of ENTRIES) {
        if (entry.common !== unit.common) continue
        const match = matchHeader(entry.nodes, nodes)
        if (match === 'suffix') wrongSuffix = true
        if (match !== 'yes') continue
        if (!unit.common) running.path = nodes.slice(0, -1)
        return entry
      }
    }
    throw new ScpiError(wrongSuffix ? -114 : -113, unit.text.slice(0, 60))
  }
}

function joinAnswers(answers: readonly Response[]): Uint8Array {
  const parts = answers.map((answer) =>
    typeof answer === 'string' ? Uint8Array.from(answer, (c) => c.charCodeAt(0)) : answer,
  )
  const whole = new Uint8Array(parts.reduce((sum, part) => sum + part.length + 1, 0))
  let at = 0
  parts.forEach((part, i) => {
    whole.set(part, at)
    at += part.length
    whole[at] = i === parts.length - 1 ? 0x0a : 0x3b
    at += 1
  })
  return whole
}

/** SYSTem:HELP:HEADers?: one header a line, `/qonly/` without a command form, `/nquery/` without a query form. */
function listHeaders(): string {
  return ENTRIES.map(({ command }) => {
    const { pattern } = command
    const header = pattern.startsWith('*')
      ? pattern
      : pattern.startsWith('[')
        ? pattern.replace(/^\[(\w+):\]/, '[:$1]:')
        : `:${pattern}`
    if (!command.set) return `${header}?/qonly/`
    return command.query ? header : `${header}/nquery/`
  }).join('\n')
}
