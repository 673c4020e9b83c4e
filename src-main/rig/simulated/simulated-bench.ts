/**
 * The simulated rig in memory: display, detector and instrument on one clock, behind a byte link. Everything it does
 * follows from the seed, the bytes and the times of the calls.
 */
import type { FrameLog } from '#shared/domain/capture.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { SweepPlan } from '#shared/domain/plan.ts'
import type { SimSetting, Simulation } from '#shared/domain/rig.ts'
import type { SimView } from '#shared/domain/sim-control.ts'
import type { ByteLink, SimulatedInstrument } from '../transport/link.ts'
import type { Watcher } from './eye/xvfb.ts'
import { createContact } from './contact.ts'
import { createByteOutlet, type ByteOutlet } from './byte-outlet.ts'
import { frameLogOf } from './frame-log.ts'
import { Instrument } from './instrument/instrument.ts'
import { addRecordNoise, photodiodeOf, voltsOf } from './optics/photodiode.ts'
import { random } from './optics/noise.ts'
import { createDisplay, showLevel, withRefresh, withRow, withSetting, type Display } from './panel/display.ts'
import { STRAIGHT, viewShare } from './panel/view.ts'
import { spoilerOf } from './faults.ts'
import type { SimClock } from './sim-clock.ts'

export interface BenchOptions {
  readonly simulation: Simulation
  readonly clock: SimClock
  /** Rate of the link to the host, bytes/s; unlimited when left out. */
  readonly bytesPerSecond?: number | null
  /** What the display follows instead of `show`: levels seen elsewhere, told after they happened. */
  readonly watcher?: Watcher
  /** Duty of a pulse-width modulated backlight. */
  readonly brightness?: number
  readonly refreshHz?: number
}

export interface SimulatedBench extends SimulatedInstrument {
  readonly display: Display
  readonly refreshHz: number
  readonly level: number
  /** Asks the display for a level; answers once the frame that shows it has begun. `conflict` with a watcher. */
  show(level: number, signal?: AbortSignal): Promise<FrameLog>
  setRefresh(refreshHz: number): void
  setSetting(setting: SimSetting): void
  /** Kept for the record only: the detector's spot is taken as smaller than any patch, in the middle of the screen. */
  setPatch(patch: SweepPlan['patch']): void
  readonly patch: SweepPlan['patch'] | null
  /** What share of the light reaches the detector at a clock time: a lamp that drifts, a sensor that was moved. */
  setGain(gain: (timeS: number) => number): void
  /** Covers or uncovers the detector. */
  cover(covered: boolean): void
  externalTrigger(): void
  /** The next input event makes the display show a level; answers when it came. `conflict` with a watcher. */
  react(level: number, signal: AbortSignal): Promise<void>
  /** An event of the input device: the record's external trigger, and what the display does about it. */
  inputEvent(): void
  /** The detector is held at another height, 0 top to 1 bottom. */
  setRow(row: number): void
  /** And at another place or angle, over a patch of another colour. */
  setView(view: SimView): void
}

interface Alarm {
  readonly dueS: number
  readonly controller: AbortController
}

const SLOW_BYTES_PER_SECOND = 2_000

export function createSimulatedBench(options: BenchOptions): SimulatedBench {
  const { simulation, clock } = options
  const photodiode = photodiodeOf(simulation)
  const phases = random(simulation.seed, 11)
  let refreshHz = options.refreshHz ?? 60
  let level = options.watcher?.look().changes.slice(-1)[0]?.level ?? 0
  let display = createDisplay({
    panel: simulation.panel,
    backlight: simulation.backlight,
    pwmHz: simulation.pwmHz,
    brightness: options.brightness ?? 0.6,
    glow: simulation.glow,
    refreshHz,
    setting: 'Off',
    row: 0.5,
    level,
    signalDelayS: simulation.signalDelayS,
    startS: clock.now() - phases() / refreshHz,
    pwmPhase: phases(),
  })
  let patch: SweepPlan['patch'] | null = null
  let covered = false
  let gain: ((timeS: number) => number) | null = null
  let seen = viewShare(STRAIGHT)
  let plugged = true
  let stalled = false
  let slow = false
  let outlet: ByteOutlet | null = null
  let disposed = false
  let alarm: Alarm | null = null
  const polls = random(simulation.seed, 23)
  const contact = createContact(simulation.bounceS)
  let reaction: { readonly level: number; readonly done: () => void } | null = null

  /** Takes over what the watcher saw; answers up to when the light is certain. */
  function follow(now: number): number {
    if (!options.watcher) return now
    const { untilS, changes } = options.watcher.look()
    for (const change of changes) {
      display = showLevel(display, change.level, change.timeS).display
      level = change.level
    }
    return untilS
  }

  const instrument = new Instrument({
    input: {
      volts(startS, stepS, count, filterHz) {
        const whiteV = photodiode.darkV + (photodiode.whiteV - photodiode.darkV) * seen * (gain?.(startS) ?? 1)
        return voltsOf({ ...photodiode, whiteV }, covered ? null : display, startS, stepS, count, filterHz)
      },
      addNoise: (samples, record, path) => addRecordNoise(photodiode, samples, record, path),
      knownUntil: (now) => Math.min(now, follow(now)),
      ...(simulation.eventChannel ? { second: (startS, stepS, count) => contact.volts(startS, stepS, count) } : {}),
    },
    now: () => clock.now(),
    bits: simulation.bits,
    onPulse: reactAt,
    serialNumber: `SIM-${simulation.panel}-${simulation.seed}`,
    send: (bytes) => outlet?.send(bytes),
  })

  /** Event, poll of the device, host, queued frames; then the display's next frame shows it. */
  function reactAt(atS: number): void {
    contact.close(atS)
    const armed = reaction
    if (armed === null) return
    reaction = null
    const { hostDelayS, pollS, queuedFrames } = simulation
    const askedS = atS + pollS * polls() + hostDelayS + queuedFrames * display.clock.periodS
    display = showLevel(display, armed.level, askedS).display
    level = armed.level
    armed.done()
  }

  /** Sleeps until the instrument wants to be called again. An alarm that rings too early does no harm and is kept. */
  function settle(): void {
    const wake = disposed ? null : instrument.nextWake()
    if (wake === null || (alarm !== null && alarm.dueS <= wake)) return
    alarm?.controller.abort()
    alarm = { dueS: wake, controller: new AbortController() }
    void ring(alarm)
  }

  async function ring(mine: Alarm): Promise<void> {
    try {
      await clock.sleep(Math.max(0, mine.dueS - clock.now()), mine.controller.signal)
    } catch {
      return // Replaced by an earlier alarm.
    }
    if (alarm !== mine) return
    alarm = null
    poke()
  }

  function poke(): void {
    if (!stalled) instrument.advance()
    settle()
  }

  function receive(bytes: Uint8Array): void {
    if (stalled) return
    instrument.receive(bytes)
    settle()
  }

  function rate(): number | null {
    return slow ? SLOW_BYTES_PER_SECOND : (options.bytesPerSecond ?? null)
  }

  function unplug(reason: string): void {
    instrument.disconnected()
    outlet?.end(reason)
    outlet = null
  }

  function endFaults(): void {
    stalled = false
    slow = false
    plugged = true
    covered = false
    instrument.acquisition.overdriven = false
    instrument.spoilNextBlock(null)
    outlet?.setRate(rate())
  }

  return {
    get display() {
      return display
    },
    get refreshHz() {
      return refreshHz
    },
    get level() {
      return level
    },
    async open(): Promise<ByteLink> {
      if (disposed || !plugged)
        throw new AppError('rig-absent', 'The simulated rig is unplugged.', 'Plug it in again with the fault "replug".')
      if (outlet) throw new AppError('rig-busy', 'The simulated rig is in use.', 'Close its current connection first.')
      const mine = createByteOutlet({
        clock,
        bytesPerSecond: rate(),
        onInput: (bytes) => receive(bytes),
        onClosed: () => {
          if (outlet === mine) unplug('it was closed')
        },
      })
      outlet = mine
      return mine.link
    },
    async inject(fault) {
      switch (fault) {
        case 'unplug':
          plugged = false
          unplug('the cable of the simulated rig was pulled')
          break
        case 'replug':
          plugged = true
          break
        case 'stall':
          stalled = true
          outlet?.setStalled(true)
          break
        case 'slow-link':
          slow = true
          outlet?.setRate(rate())
          break
        case 'clipped':
          instrument.acquisition.overdriven = true
          break
        case 'covered':
          covered = true
          break
        case 'noise-burst':
        case 'wrong-length':
        case 'flipped-bytes':
          instrument.spoilNextBlock(spoilerOf(fault, simulation.seed))
          break
        case 'none':
          endFaults()
          outlet?.setStalled(false)
          break
      }
      poke()
    },
    async dispose() {
      disposed = true
      alarm?.controller.abort()
      unplug('the simulated rig was switched off')
    },
    async show(next, signal) {
      if (options.watcher)
        throw new AppError(
          'conflict',
          'The simulated display follows a screen and cannot be told what to show.',
          'Use the stimulus page on that screen.',
        )
      const shown = showLevel(display, next, clock.now())
      display = shown.display
      level = next
      const log = frameLogOf(display.clock, shown.frameS)
      poke()
      await clock.sleep(Math.max(0, shown.frameS - clock.now()), signal)
      return log
    },
    setRefresh(hz) {
      refreshHz = hz
      display = withRefresh(display, hz, clock.now())
      poke()
    },
    setSetting(setting) {
      display = withSetting(display, setting)
    },
    get patch() {
      return patch
    },
    setPatch(next) {
      patch = next
    },
    setGain(next) {
      gain = next
    },
    cover(next) {
      covered = next
      poke()
    },
    externalTrigger() {
      instrument.externalTrigger()
      settle()
    },
    react(next, signal) {
      if (options.watcher)
        throw new AppError(
          'conflict',
          'The simulated display follows a screen and cannot react by itself.',
          'Use the stimulus page on that screen.',
        )
      return new Promise((resolve, reject) => {
        const giveUp = (): void => {
          reaction = null
          reject(new AppError('cancelled', 'The work was cancelled.'))
        }
        if (signal.aborted) return giveUp()
        signal.addEventListener('abort', giveUp, { once: true })
        reaction = {
          level: next,
          done() {
            signal.removeEventListener('abort', giveUp)
            resolve()
          },
        }
      })
    },
    inputEvent() {
      const at = clock.now()
      instrument.externalTrigger()
      reactAt(at)
      settle()
    },
    setRow(row) {
      display = withRow(display, row)
    },
    setView(view) {
      seen = viewShare(view)
    },
  }
}
