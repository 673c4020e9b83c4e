import { linkedController } from '#main/core/linked-controller.ts'
import type { Clock, Digitizer, Log, Recording, RecordSettings } from '#main/core/ports.ts'
import type { RigCapabilities } from '#shared/domain/rig.ts'
import {
  ABORT,
  ACQUISITION_STATE,
  ARM_COMMANDS,
  BORDER_HEADER,
  BUS_TRIGGER,
  CHANNEL_DATA_HEADER,
  CHANNEL_LIST,
  CHANNEL_LIST_HEADER,
  configureCommands,
  CONTINUOUS_HEADER,
  DATA_QUESTIONABLE,
  ESR_OPERATION_COMPLETE,
  NEXT_ERROR,
  OPER_MEASURING,
  OPER_RANGING,
  OPER_SETTLING,
  OPER_SWEEPING,
  OPER_WAITING_TRIGGER,
  OUTPUT_PULSE,
  PULSE_HEADER,
  READ_BACK,
  SECOND_CHANNEL,
} from '../protocol/commands.ts'
import { hasHeader } from '../protocol/headers.ts'
import { describeInstrumentError, type InstrumentError, parseInstrumentError } from '../protocol/instrument-error.ts'
import { parseInteger } from '../protocol/numbers.ts'
import { type ActualSettings, checkSettings, checkThroughput, isAsAsked, readActual } from './record-check.ts'
import { type RecordAsked, RecordReader } from './record-reader.ts'
import {
  cancelledError,
  isCode,
  lostError,
  protocolError,
  RigFault,
  timeoutError,
  unsuitableError,
} from './rig-errors.ts'
import type { ScpiSession } from './scpi-session.ts'
import type { RigTimings } from './timings.ts'
import { pause } from './waiting.ts'

interface Configured extends RecordAsked {
  /** The session's resync count at that time: after another one the next `configure` sends everything anew. */
  readonly resyncs: number
}

interface AcquisitionState {
  readonly complete: boolean
  readonly waiting: boolean
  readonly recording: boolean
  /** Anything but idle. */
  readonly active: boolean
}

type Phase = 'idle' | 'armed' | 'triggered'

export interface DigitizerDeps {
  readonly session: ScpiSession
  readonly capabilities: RigCapabilities
  readonly clock: Clock
  readonly log: Log
  readonly timings: RigTimings
  /** Told when an acquisition is under way and when it is over. */
  readonly onRecording: (recording: boolean) => void
  /** Told of every block that had to be thrown away. */
  readonly onLoss: (reason: string) => void
}

const RECORDING_BITS = OPER_SWEEPING | OPER_MEASURING
const BUSY_BITS = OPER_SETTLING | OPER_RANGING | RECORDING_BITS | OPER_WAITING_TRIGGER
const SHORTEST_POLL_S = 0.002
const LONGEST_POLL_S = 0.02

/** A digitizer driven by standard SCPI alone. One job at a time; `abort` ends a running one first. */
export class ScpiDigitizer implements Digitizer {
  readonly #deps: DigitizerDeps
  readonly #session: ScpiSession
  readonly #timings: RigTimings
  readonly #records: RecordReader
  #configured: Configured | null = null
  #phase: Phase = 'idle'
  #complete = false
  #triggeredAt = 0
  #job: { readonly controller: AbortController; readonly done: Promise<unknown> } | null = null

  constructor(deps: DigitizerDeps) {
    this.#deps = deps
    this.#session = deps.session
    this.#timings = deps.timings
    this.#records = new RecordReader(deps)
  }

  async configure(settings: RecordSettings, signal?: AbortSignal): Promise<void> {
    checkSettings(settings, this.#deps.capabilities.headers)
    try {
      checkThroughput(settings, this.#session.bytesPerSecond, settings.transferLimitS ?? this.#timings.transferLimitS)
    } catch (error) {
      // A rate that was only measured may be better next time.
      this.#session.forgetMeasuredRate()
      throw error
    }
    await this.#run(signal, async (stop) => {
      const known = this.#configured
      if (known?.resyncs === this.#session.resyncs && this.#phase === 'idle' && same(known.settings, settings)) {
        this.#configured = { ...known, settings }
        return
      }
      this.#configured = null
      const { headers } = this.#deps.capabilities
      const byteOrder = hasHeader(headers, BORDER_HEADER) ? 'swapped' : null
      const commands = configureCommands({
        ...settings,
        byteOrder,
        continuousOff: headers.length === 0 || hasHeader(headers, CONTINUOUS_HEADER),
      })
      const refused = await this.#session.sendChecked(commands, stop)
      this.#setPhase('idle')
      if (refused.length > 0) await this.#findRefused(commands, refused, stop)
      const actual = await this.#readBack(settings, stop)
      this.#configured = {
        settings,
        actual,
        byteOrder: byteOrder ?? 'normal',
        resyncs: this.#session.resyncs,
      }
    })
  }

  async arm(signal?: AbortSignal): Promise<void> {
    await this.#run(signal, async (stop) => {
      const { settings, actual } = this.#needConfigured()
      const before = this.#phase === 'idle' ? [] : [ABORT]
      this.#complete = false
      this.#setPhase('armed')
      const startedAt = this.#deps.clock.now()
      const preTriggerS = actual.preTriggerPoints / actual.sampleRateHz
      let state = await this.#askState([...before, ...ARM_COMMANDS], stop)
      for (let idleAnswers = 0; ; state = await this.#askState([], stop)) {
        const elapsedS = this.#deps.clock.now() - startedAt
        idleAnswers = state.active ? 0 : idleAnswers + 1
        // Idle twice: started and over already, on a rig that does not tie *OPC to its acquisitions.
        if (state.complete || state.waiting || idleAnswers > 1) return
        // Not every rig tells filling its pre-trigger memory from waiting; by then it has filled it.
        if (state.recording && (settings.trigger.source === 'immediate' || elapsedS > preTriggerS + 0.25)) return
        if (elapsedS > preTriggerS + this.#timings.confirmS)
          throw timeoutError(`it did not confirm that it waits for its trigger within ${elapsedS.toFixed(1)} s`)
        await pause(this.#deps.clock, SHORTEST_POLL_S, stop)
      }
    })
  }

  async trigger(): Promise<void> {
    await this.#run(undefined, async () => {
      if (this.#phase !== 'armed' || this.#configured?.settings.trigger.source !== 'bus')
        throw unsuitableError('The rig does not wait for a bus trigger.', 'Arm it with the bus trigger first.')
      await this.#session.send([BUS_TRIGGER])
      this.#triggeredAt = this.#deps.clock.now()
      this.#setPhase('triggered')
    })
  }

  async pulse(): Promise<boolean> {
    if (!hasHeader(this.#deps.capabilities.headers, PULSE_HEADER)) return false
    await this.#run(undefined, () => this.#session.send([OUTPUT_PULSE]))
    return true
  }

  async hasSecond(signal?: AbortSignal): Promise<boolean> {
    const { headers } = this.#deps.capabilities
    if (!hasHeader(headers, CHANNEL_LIST_HEADER) || !hasHeader(headers, CHANNEL_DATA_HEADER)) return false
    return this.#run(signal, async (stop) => {
      const names = await this.#session.queryTexts([CHANNEL_LIST], 1, { signal: stop })
      return names
        .join(',')
        .toUpperCase()
        .split(/["',\s]+/)
        .includes(SECOND_CHANNEL)
    })
  }

  async read(signal?: AbortSignal): Promise<Recording> {
    return this.#run(signal, async (stop) => {
      const configured = this.#needConfigured()
      if (this.#phase === 'idle')
        throw unsuitableError('There is nothing to read: the rig is not armed.', 'Arm it first.')
      await this.#waitForEnd(configured, stop)
      const recording = await this.#fetchCounted(configured, stop)
      this.#setPhase('idle')
      return recording
    })
  }

  async abort(): Promise<void> {
    const job = this.#job
    if (job !== null) {
      job.controller.abort()
      await job.done.catch(() => undefined)
    }
    if (this.#session.lost !== null) return
    await this.#run(undefined, async () => {
      const reported = await this.#session.sendChecked([ABORT])
      if (reported.length > 0) this.#deps.log.warn('The rig reported errors when stopped.', { reported })
      this.#setPhase('idle')
    })
  }

  #needConfigured(): Configured {
    const configured = this.#configured
    if (configured === null) throw unsuitableError('The rig is not configured.', 'Configure it before arming.')
    return configured
  }

  #setPhase(phase: Phase): void {
    const before = this.#phase
    this.#phase = phase
    if ((before === 'idle') !== (phase === 'idle')) this.#deps.onRecording(phase !== 'idle')
  }

  /** One job at a time; what failed underway is brought back into step before the caller hears of it. */
  async #run<T>(signal: AbortSignal | undefined, work: (stop: AbortSignal) => Promise<T>): Promise<T> {
    if (this.#session.lost !== null) throw lostError(this.#session.lost)
    if (signal?.aborted === true) throw cancelledError()
    if (this.#job !== null)
      throw unsuitableError('The rig is busy with another recording.', 'Wait for it or stop it first.')
    const { controller, release } = linkedController(signal)
    const done = work(controller.signal)
    this.#job = { controller, done }
    try {
      return await done
    } catch (error) {
      throw await this.#recovered(error, controller.signal)
    } finally {
      release()
      this.#job = null
    }
  }

  async #recovered(error: unknown, stop: AbortSignal): Promise<unknown> {
    if (!(error instanceof RigFault)) return error
    try {
      const reported = this.#session.inStep ? [] : await this.#session.resync(stop)
      reported.push(...(await this.#session.sendChecked([ABORT], stop)))
      this.#setPhase('idle')
      return error.withReported(reported)
    } catch (worse) {
      // Cancelled while bringing it back: the session does so itself before its next question.
      return isCode(worse, 'cancelled') ? error : worse
    }
  }

  /** Sends the settings one by one to learn which the rig will not take. None: only the line was disturbed before. */
  async #findRefused(
    commands: readonly string[],
    refused: readonly InstrumentError[],
    stop: AbortSignal,
  ): Promise<void> {
    this.#deps.log.warn('The rig objected to its settings.', { reported: refused.map(describeInstrumentError) })
    for (const command of commands) {
      const reported = await this.#session.sendChecked([command], stop)
      if (reported.length > 0)
        throw unsuitableError(
          `The rig refused "${command}": ${reported.map(describeInstrumentError).join('; ')}.`,
          'Change the plan to what the rig can do.',
        )
    }
  }

  /** What the rig will do. Anything else than was asked is read twice: a damaged digit must not become a time axis. */
  async #readBack(settings: RecordSettings, stop: AbortSignal): Promise<ActualSettings> {
    const first = await this.#session.queryTexts([READ_BACK], 4, { signal: stop })
    const asked = isAsAsked(settings, first)
    const answers = asked ? first : await this.#session.queryTexts([READ_BACK], 4, { signal: stop })
    if (!asked && answers.join(';') !== first.join(';'))
      throw protocolError(`the settings read back as "${first.join(';')}", then as "${answers.join(';')}"`)
    return readActual(settings, answers)
  }

  async #askState(before: readonly string[], stop: AbortSignal): Promise<AcquisitionState> {
    const texts = await this.#session.queryTexts([...before, `${ACQUISITION_STATE};:${NEXT_ERROR}`], 3, {
      signal: stop,
    })
    const [events, condition] = texts.map(parseInteger)
    const error = parseInstrumentError(texts[2] ?? '')
    if (events == null || condition == null || error === null) {
      this.#session.markOutOfStep()
      throw protocolError(`"${texts.join(';')}" is not an acquisition state`)
    }
    if (error.code !== 0 && error.code !== DATA_QUESTIONABLE)
      throw protocolError('the acquisition was refused', [error])
    // The completion bit is cleared by reading it.
    if ((events & ESR_OPERATION_COMPLETE) !== 0) this.#complete = true
    const active = (condition & BUSY_BITS) !== 0
    return {
      complete: this.#complete && !active,
      waiting: (condition & OPER_WAITING_TRIGGER) !== 0,
      recording: (condition & RECORDING_BITS) !== 0,
      active,
    }
  }

  async #waitForEnd({ settings, actual }: Configured, stop: AbortSignal): Promise<void> {
    const { clock } = this.#deps
    const recordS = actual.points / actual.sampleRateHz
    const postS = recordS - actual.preTriggerPoints / actual.sampleRateHz
    const pollS = Math.min(LONGEST_POLL_S, Math.max(SHORTEST_POLL_S, recordS / 50))
    // With the trigger sent by the host the end is known; asking before only loads the link.
    if (this.#phase === 'triggered') {
      const aheadS = this.#triggeredAt + postS - clock.now()
      if (aheadS > 0) await pause(clock, aheadS, stop)
    }
    const startedAt = clock.now()
    const { source } = settings.trigger
    const awaitsEdge = source === 'level' || source === 'external'
    const waitS = awaitsEdge ? (settings.triggerWaitS ?? this.#timings.triggerWaitS) : 0
    const limitS = waitS + recordS + this.#timings.overdueS
    let idleAnswers = 0
    for (;;) {
      const state = await this.#askState([], stop)
      // A rig that does not tie *OPC to its acquisitions is believed when it is idle twice.
      idleAnswers = state.active ? 0 : idleAnswers + 1
      if (state.complete || idleAnswers > 1) return
      const elapsedS = clock.now() - startedAt
      if (awaitsEdge && state.waiting && elapsedS > waitS)
        throw timeoutError(
          source === 'level'
            ? `no light edge crossed the trigger level within ${waitS.toFixed(1)} s`
            : `no input event reached its trigger input within ${waitS.toFixed(1)} s`,
        )
      if (elapsedS > limitS) throw timeoutError(`the recording did not end within ${elapsedS.toFixed(1)} s`)
      await pause(clock, pollS, stop)
    }
  }

  async #fetchCounted(configured: Configured, stop: AbortSignal): Promise<Recording> {
    try {
      return await this.#records.fetch(configured, stop)
    } catch (error) {
      if (isCode(error, 'rig-protocol', 'rig-timeout', 'rig-lost')) this.#deps.onLoss(error.message)
      throw error
    }
  }
}

/** Equal in everything the instrument is told. */
function same(a: RecordSettings, b: RecordSettings): boolean {
  return JSON.stringify(configureKey(a)) === JSON.stringify(configureKey(b))
}

function configureKey({ sampleRateHz, points, preTriggerPoints, rangeV, trigger, transfer }: RecordSettings): unknown {
  return [
    sampleRateHz,
    points,
    preTriggerPoints,
    rangeV,
    transfer,
    trigger.source,
    ...(trigger.source === 'level' ? [trigger.levelV, trigger.slope] : []),
  ]
}
