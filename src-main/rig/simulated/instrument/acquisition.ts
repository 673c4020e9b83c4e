/**
 * The trigger system and the converter: idle → (pre-trigger filling) → waiting for trigger → recording → idle.
 * Everything is decided from clock times handed in; records are computed when their real duration has passed.
 */
import { OPER, QUES, type Status } from './status.ts'
import { ScpiError } from './scpi-error.ts'

/** What the instrument's input terminal sees. */
export interface AnalogInput {
  /** Noise-free volts at `startS + i·stepS`, through the input low-pass if its frequency is given. */
  volts(startS: number, stepS: number, count: number, filterHz: number | null): Float64Array
  /** Volts of the second input over the same samples; left out where there is none. */
  readonly second?: (startS: number, stepS: number, count: number) => Float64Array
  /** Adds the noise of one record in place; the same number gives the same noise. */
  addNoise(samples: Float64Array, record: number, path: { stepS: number; filterHz: number | null } | null): void
  /** Up to when the signal can no longer change, given the time now, s. */
  knownUntil(nowS: number): number
}

export interface AcquisitionSettings {
  readonly rangeV: number
  readonly stepS: number
  readonly points: number
  /** Negative: samples before the trigger. */
  readonly offset: number
  readonly source: 'IMM' | 'BUS' | 'INT' | 'EXT'
  readonly levelV: number
  readonly slope: 'POS' | 'NEG' | 'EITH'
  readonly delayS: number
  readonly filterHz: number | null
  /** False: the terminal is grounded or off, and the record holds noise around 0 V only. */
  readonly connected: boolean
}

export interface DataRecord {
  readonly codes: Int16Array
  /** Of the second input; null where there is none. */
  readonly second: Int16Array | null
  readonly settings: AcquisitionSettings
  readonly clipped: boolean
}

export type AcquisitionState = 'idle' | 'filling' | 'waiting' | 'recording'

/** The level comparator looks at the signal at least this often while it waits, s, and reports within `POLL_S`. */
const COMPARATOR_STEP_S = 20e-6
const POLL_S = 0.004

export class Acquisition {
  state: AcquisitionState = 'idle'
  continuous = false
  record: DataRecord | null = null
  /** The amplifier runs into its rail in every record while this is set. */
  overdriven = false
  readonly #input: AnalogInput
  readonly #status: Status
  readonly #bits: number
  #settings: AcquisitionSettings | null = null
  #armedAtS = 0
  #scannedToS = 0
  #scannedV = 0
  #startS = 0
  #endS = 0
  #records = 0

  constructor(input: AnalogInput, status: Status, bits: number) {
    this.#input = input
    this.#status = status
    this.#bits = bits
  }

  get hasSecond(): boolean {
    return this.#input.second !== undefined
  }

  get waitsForBus(): boolean {
    return this.state !== 'idle' && this.state !== 'recording' && this.#settings?.source === 'BUS'
  }

  initiate(settings: AcquisitionSettings, nowS: number): void {
    if (this.state !== 'idle') throw new ScpiError(-213)
    this.record = null
    this.#settings = settings
    this.#armedAtS = nowS + Math.max(0, -settings.offset) * settings.stepS
    this.#enter('filling')
    this.advance(nowS)
  }

  abort(): void {
    this.#enter('idle')
  }

  /** *TRG with the source BUS, an edge at the external input with EXT, TRIGger:IMMediate with any. */
  trigger(source: 'BUS' | 'EXT' | 'any', nowS: number): boolean {
    this.advance(nowS)
    if (this.state !== 'waiting' || (source !== 'any' && this.#settings?.source !== source)) return false
    this.#start(nowS)
    this.advance(nowS)
    return true
  }

  /** Does what is due at a time. */
  advance(nowS: number): void {
    for (;;) {
      const settings = this.#settings
      if (this.state === 'idle' || settings === null) return
      if (this.state === 'filling') {
        if (nowS < this.#armedAtS) return
        this.#scannedToS = this.#armedAtS
        this.#scannedV = Number.NaN
        this.#enter('waiting')
        if (settings.source === 'IMM') this.#start(this.#armedAtS)
      } else if (this.state === 'waiting') {
        if (settings.source !== 'INT' || !this.#scan(settings, this.#input.knownUntil(nowS))) return
      } else {
        if (nowS < this.#endS || this.#input.knownUntil(nowS) < this.#endS) return
        this.#finish(settings)
        if (this.continuous) {
          this.#armedAtS = this.#endS + Math.max(0, -settings.offset) * settings.stepS
          this.#enter('filling')
        }
      }
    }
  }

  /** When `advance` should be called next; null when nothing is due by itself. */
  nextWake(nowS: number): number | null {
    if (this.state === 'filling') return this.#armedAtS
    // A record that should be over waits for the signal's source to say that nothing more comes.
    if (this.state === 'recording') return this.#endS > nowS ? this.#endS : nowS + POLL_S / 4
    return this.state === 'waiting' && this.#settings?.source === 'INT' ? nowS + POLL_S : null
  }

  #enter(state: AcquisitionState): void {
    this.state = state
    const bits = { idle: 0, filling: OPER.sweeping, waiting: OPER.sweeping | OPER.waitingTrigger }
    this.#status.operation.setCondition(state === 'recording' ? OPER.sweeping | OPER.measuring : bits[state])
  }

  #start(triggerS: number): void {
    const settings = this.#settings as AcquisitionSettings
    this.#startS = triggerS + settings.delayS + settings.offset * settings.stepS
    this.#endS = this.#startS + settings.points * settings.stepS
    this.#enter('recording')
  }

  /** Follows the signal from where it was left; true once the trigger was found. */
  #scan(settings: AcquisitionSettings, untilS: number): boolean {
    const step = Math.max(settings.stepS, COMPARATOR_STEP_S)
    const count = Math.floor((untilS - this.#scannedToS) / step)
    if (count <= 0) return false
    const volts = this.#volts(settings, this.#scannedToS, step, count + 1)
    let before = Number.isNaN(this.#scannedV) ? (volts[0] as number) : this.#scannedV
    for (let i = 1; i <= count; i++) {
      const v = volts[i] as number
      if (crosses(before, v, settings)) {
        const at = this.#refine(settings, this.#scannedToS + (i - 1) * step, step)
        // The trigger is the first sample at or after the crossing, on a grid that starts when the input was armed.
        const sample = Math.ceil((at - this.#armedAtS) / settings.stepS - 1e-9)
        this.#start(this.#armedAtS + sample * settings.stepS)
        return true
      }
      before = v
    }
    this.#scannedToS += count * step
    this.#scannedV = before
    return false
  }

  #refine(settings: AcquisitionSettings, fromS: number, lengthS: number): number {
    let low = fromS
    let high = fromS + lengthS
    const start = this.#volts(settings, low, 1, 1)[0] as number
    for (let i = 0; i < 30; i++) {
      const mid = (low + high) / 2
      if (crosses(start, this.#volts(settings, mid, 1, 1)[0] as number, settings)) high = mid
      else low = mid
    }
    return high
  }

  #volts(settings: AcquisitionSettings, startS: number, stepS: number, count: number): Float64Array {
    return settings.connected ? this.#input.volts(startS, stepS, count, settings.filterHz) : new Float64Array(count)
  }

  #finish(settings: AcquisitionSettings): void {
    const volts = this.#volts(settings, this.#startS, settings.stepS, settings.points)
    this.#records += 1
    const { stepS, filterHz, connected } = settings
    this.#input.addNoise(volts, this.#records, connected ? { stepS, filterHz } : null)
    if (this.overdriven) overdrive(volts, settings.rangeV)
    const second = this.#input.second?.(this.#startS, stepS, settings.points) ?? null
    this.record = {
      ...convert(volts, settings, this.#bits),
      settings,
      second: second === null ? null : convert(second, settings, this.#bits).codes,
    }
    this.#status.questionable.setCondition(this.record.clipped ? QUES.voltage : 0)
    if (this.record.clipped) this.#status.push(-231, 'input beyond its range')
    this.#enter('idle')
  }
}

function crosses(before: number, after: number, settings: AcquisitionSettings): boolean {
  const { levelV, slope } = settings
  return (
    (slope !== 'NEG' && before < levelV && after >= levelV) || (slope !== 'POS' && before > levelV && after <= levelV)
  )
}

/** Too much gain after the trigger comparator: the largest sample of any record lies past the rail. */
function overdrive(volts: Float64Array, rangeV: number): void {
  let largest = 1e-9
  for (const v of volts) largest = Math.max(largest, Math.abs(v))
  const gain = Math.max(8, (1.4 * rangeV) / largest)
  for (let i = 0; i < volts.length; i++) volts[i] = gain * (volts[i] as number)
}

/** volts = code × range ÷ 32768; a converter with fewer bits leaves the low ones at zero. */
function convert(
  volts: Float64Array,
  settings: AcquisitionSettings,
  bits: number,
): Pick<DataRecord, 'codes' | 'clipped'> {
  const codes = new Int16Array(volts.length)
  const lsb = 2 ** (16 - bits)
  const perVolt = 32_768 / (settings.rangeV * lsb)
  const top = 2 ** (bits - 1) - 1
  let clipped = false
  for (let i = 0; i < volts.length; i++) {
    let code = Math.round((volts[i] as number) * perVolt)
    if (code > top || code < -top - 1) {
      clipped = true
      code = code > top ? top : -top - 1
    }
    codes[i] = code * lsb
  }
  return { codes, clipped }
}
