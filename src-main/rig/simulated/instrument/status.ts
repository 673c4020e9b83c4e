/** Status reporting of IEEE 488.2 chapter 11 and SCPI-1999 Volume 1 chapter 9: registers, masks and the error queue. */
import { ERROR_TEXTS, eventBit, type ScpiErrorCode } from './scpi-error.ts'

export const ESR = { operationComplete: 1, powerOn: 1 << 7 } as const
export const OPER = { sweeping: 1 << 3, measuring: 1 << 4, waitingTrigger: 1 << 5 } as const
export const QUES = { voltage: 1 } as const
const STB = { errors: 1 << 2, questionable: 1 << 3, message: 1 << 4, event: 1 << 5, master: 1 << 6, operation: 1 << 7 }
/** Bit 15 is never used. */
const REGISTER_MASK = 0x7fff

/** Condition, transition filters, event and enable of one SCPI register set. */
export class StatusRegister {
  condition = 0
  event = 0
  enable = 0
  positive = REGISTER_MASK
  negative = 0

  setCondition(value: number): void {
    const rose = value & ~this.condition
    const fell = this.condition & ~value
    this.event |= (rose & this.positive) | (fell & this.negative)
    this.condition = value
  }

  /** Reading an event register clears it. */
  takeEvent(): number {
    const event = this.event
    this.event = 0
    return event
  }

  preset(): void {
    this.enable = 0
    this.positive = REGISTER_MASK
    this.negative = 0
  }

  mask(value: number): number {
    return value & REGISTER_MASK
  }

  get summary(): boolean {
    return (this.event & this.enable) !== 0
  }
}

/** Entries the error queue holds; the last one becomes −350 when another error comes. */
export const ERROR_QUEUE_LENGTH = 20

export class Status {
  readonly operation = new StatusRegister()
  readonly questionable = new StatusRegister()
  event: number = ESR.powerOn
  eventEnable = 0
  serviceEnable = 0
  #errors: string[] = []

  push(code: ScpiErrorCode, info = ''): void {
    this.event |= eventBit(code)
    const text = info === '' ? ERROR_TEXTS[code] : `${ERROR_TEXTS[code]};${info}`
    // SCPI allows 255 characters between the quotes, in which a quote is written twice.
    const entry = `${code},"${text
      .replaceAll(/[^\x20-\x7e]/g, '?')
      .replaceAll('"', '""')
      .slice(0, 240)}"`
    if (this.#errors.length < ERROR_QUEUE_LENGTH) this.#errors.push(entry)
    else {
      this.#errors[ERROR_QUEUE_LENGTH - 1] = `-350,"${ERROR_TEXTS[-350]}"`
      this.event |= eventBit(-350)
    }
  }

  next(): string {
    return this.#errors.shift() ?? '0,"No error"'
  }

  all(): string {
    const entries = this.#errors.length === 0 ? ['0,"No error"'] : this.#errors
    this.#errors = []
    return entries.join(',')
  }

  get errorCount(): number {
    return this.#errors.length
  }

  takeEvent(): number {
    const event = this.event
    this.event = 0
    return event
  }

  /** *CLS: event registers and queue; masks stay. */
  clear(): void {
    this.event = 0
    this.operation.event = 0
    this.questionable.event = 0
    this.#errors = []
  }

  /** The status byte with bit 6 as master summary, as *STB? answers it. */
  byte(messageAvailable: boolean): number {
    const byte =
      (this.#errors.length > 0 ? STB.errors : 0) |
      (this.questionable.summary ? STB.questionable : 0) |
      (messageAvailable ? STB.message : 0) |
      ((this.event & this.eventEnable) === 0 ? 0 : STB.event) |
      (this.operation.summary ? STB.operation : 0)
    return byte | ((byte & this.serviceEnable) === 0 ? 0 : STB.master)
  }
}
