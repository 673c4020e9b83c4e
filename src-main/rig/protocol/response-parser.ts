/**
 * Byte state machine for one IEEE 488.2 response message: response units separated by `;`, ended by NL. Whoever asks
 * knows what must come, so the parser is told: each unit is a line of text or a definite-length block
 * (`#<n><len><bytes>`, IEEE 488.2 8.7.9). Everything else is refused at the first byte that proves it. Indefinite
 * blocks (`#0`, 8.7.10) need the EOI line, which a serial link lacks, and are refused.
 *
 * No I/O, no clock, no randomness; memory is bounded by the limits given.
 */
export type UnitKind = 'text' | 'block'

export interface ResponseLimits {
  /** Largest block taken, bytes. */
  readonly maxBlockBytes: number
  /** A block of another length is refused at its header; absent when the length is not known beforehand. */
  readonly exactBlockBytes?: number
}

export type ParseOutcome =
  /** `consumed`: bytes of the last chunk that belong to the message; what follows was not asked for. */
  | { readonly kind: 'message'; readonly units: readonly (string | Uint8Array)[]; readonly consumed: number }
  | { readonly kind: 'malformed'; readonly reason: string }

const NL = 0x0a
const CR = 0x0d
const TAB = 0x09
const SEMICOLON = 0x3b
const QUOTE = 0x22
const HASH = 0x23
const ZERO = 0x30
const NINE = 0x39
const MAX_TEXT_BYTES = 8192

type State =
  | 'unit-start'
  | 'text'
  | 'quoted'
  | 'line-end'
  | 'block-digits'
  | 'block-length'
  | 'block-data'
  | 'block-end'

export class ResponseParser {
  readonly #shape: readonly UnitKind[]
  readonly #limits: ResponseLimits
  readonly #units: (string | Uint8Array)[] = []
  #state: State = 'unit-start'
  #text = ''
  #textBytes = 0
  #lengthDigits = 0
  #length = 0
  #block = new Uint8Array(0)
  #filled = 0
  #outcome: ParseOutcome | null = null

  constructor(shape: readonly UnitKind[], limits: ResponseLimits) {
    if (shape.length === 0) throw new RangeError('A response has at least one unit.')
    this.#shape = shape
    this.#limits = limits
  }

  /** Bytes of the block that arrived, and how many its header announced (0 before the header is complete). */
  get progress(): { readonly received: number; readonly announced: number } {
    return { received: this.#filled, announced: this.#block.length }
  }

  /** Takes the next bytes; null while the message is incomplete. After an outcome the parser takes no more. */
  push(chunk: Uint8Array): ParseOutcome | null {
    if (this.#outcome !== null) throw new Error('The message was complete already.')
    let at = 0
    while (at < chunk.length) {
      if (this.#state === 'block-data') {
        const count = Math.min(this.#block.length - this.#filled, chunk.length - at)
        this.#block.set(chunk.subarray(at, at + count), this.#filled)
        this.#filled += count
        at += count
        if (this.#filled === this.#block.length) this.#state = 'block-end'
        continue
      }
      const problem = this.#byte(chunk[at] ?? 0)
      at += 1
      if (problem === 'done') return this.#end({ kind: 'message', units: this.#units, consumed: at })
      if (problem !== '') return this.#end({ kind: 'malformed', reason: problem })
    }
    return null
  }

  #end(outcome: ParseOutcome): ParseOutcome {
    this.#outcome = outcome
    return outcome
  }

  /** '' to go on, 'done' at the end of the message, otherwise what is wrong. */
  #byte(byte: number): string {
    switch (this.#state) {
      case 'unit-start':
        if (this.#shape[this.#units.length] === 'block') {
          if (byte !== HASH) return `a block was expected, not ${show(byte)}`
          this.#state = 'block-digits'
          return ''
        }
        this.#state = 'text'
        return this.#textByte(byte)
      case 'text':
        return this.#textByte(byte)
      case 'quoted':
        if (byte === QUOTE) this.#state = 'text'
        else if (byte === NL) return 'a quoted text was not closed'
        return this.#keep(byte)
      case 'line-end':
        return byte === NL ? this.#closeText(true) : 'a carriage return inside an answer'
      case 'block-digits':
        if (byte === ZERO) return 'a block of indefinite length, which a serial link cannot end'
        if (byte < ZERO || byte > NINE) return `a block header with ${show(byte)}`
        this.#lengthDigits = byte - ZERO
        this.#length = 0
        this.#state = 'block-length'
        return ''
      case 'block-length':
        return this.#lengthByte(byte)
      case 'block-end':
        this.#units.push(this.#block)
        if (byte === NL) return this.#isLast() ? 'done' : this.#short()
        if (byte !== SEMICOLON || this.#isLast()) return `the block is followed by ${show(byte)} instead of a line end`
        this.#state = 'unit-start'
        return ''
      case 'block-data':
        break
    }
    return ''
  }

  #textByte(byte: number): string {
    if (byte === NL) return this.#closeText(true)
    if (byte === SEMICOLON) return this.#closeText(false)
    if (byte === CR) {
      this.#state = 'line-end'
      return ''
    }
    if (byte === QUOTE) this.#state = 'quoted'
    return this.#keep(byte)
  }

  #keep(byte: number): string {
    if ((byte < 0x20 && byte !== TAB) || byte > 0x7e) return `${show(byte)} inside an answer`
    this.#textBytes += 1
    if (this.#textBytes > MAX_TEXT_BYTES) return 'an answer without an end'
    this.#text += String.fromCharCode(byte)
    return ''
  }

  #closeText(ended: boolean): string {
    this.#units.push(this.#text.trim())
    this.#text = ''
    const complete = this.#units.length === this.#shape.length
    if (ended) return complete ? 'done' : this.#short()
    if (complete) return 'more values than were asked for'
    this.#state = 'unit-start'
    return ''
  }

  #lengthByte(byte: number): string {
    if (byte < ZERO || byte > NINE) return `a block length with ${show(byte)}`
    this.#length = this.#length * 10 + (byte - ZERO)
    this.#lengthDigits -= 1
    if (this.#lengthDigits > 0) return ''
    const exact = this.#limits.exactBlockBytes
    if (exact !== undefined && this.#length !== exact)
      return `the block announces ${this.#length} bytes where ${exact} are due`
    if (this.#length > this.#limits.maxBlockBytes)
      return `the block announces ${this.#length} bytes, more than the ${this.#limits.maxBlockBytes} that fit`
    this.#block = new Uint8Array(this.#length)
    this.#filled = 0
    this.#state = this.#length === 0 ? 'block-end' : 'block-data'
    return ''
  }

  #isLast(): boolean {
    return this.#units.length === this.#shape.length
  }

  #short(): string {
    return `${this.#units.length} of ${this.#shape.length} values`
  }
}

function show(byte: number): string {
  if (byte === NL) return 'a line end'
  if (byte > 0x20 && byte < 0x7f) return `"${String.fromCharCode(byte)}"`
  return `byte ${byte.toString(16).padStart(2, '0').toUpperCase()}h`
}
