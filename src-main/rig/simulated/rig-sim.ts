/** The simulated rig as a program of its own: on a pseudo-terminal, so that the real serial path is used. */
import { AppError } from '#shared/domain/errors.ts'
import type { SimSetting, Simulation } from '#shared/domain/rig.ts'
import type { SimControlRequest } from '#shared/domain/sim-control.ts'
import type { FrameLog } from '#shared/domain/capture.ts'
import type { ByteLink } from '../transport/link.ts'
import { startControlServer, type ControlServer } from './control-server.ts'
import { openEye, type Eye, type EyePlace } from './eye/xvfb.ts'
import { openPseudoTerminal, type PseudoTerminal } from './pseudo-terminal.ts'
import type { SimClock } from './sim-clock.ts'
import { createSimulatedBench, type SimulatedBench } from './simulated-bench.ts'

export interface RigSimOptions {
  /** Where the link to the terminal appears. */
  readonly ptyPath: string
  readonly simulation: Simulation
  readonly clock: SimClock
  readonly log: (line: string) => void
  /** Where the control socket appears; none when left out. */
  readonly controlPath?: string
  /** Looks at a screen instead of being told levels. */
  readonly eye?: EyePlace
  /** Sends as slowly as a line of this rate with 10 bits a byte; as fast as the terminal takes it when left out. */
  readonly baudRate?: number
  readonly refreshHz?: number
  readonly setting?: SimSetting
  /** Ends it like a signal to the process does. */
  readonly signal?: AbortSignal
}

/** Serves until SIGINT, SIGTERM or the abort signal; rejects with an AppError when it cannot start or go on. */
export async function runRigSim(options: RigSimOptions): Promise<void> {
  const { clock, log, simulation, ptyPath } = options
  const stop = stopper(options.signal)
  let eye: Eye | null = null
  let bench: SimulatedBench | null = null
  let cable: Cable | null = null
  let control: ControlServer | null = null
  try {
    eye = options.eye ? await openEye(options.eye, clock) : null
    bench = createSimulatedBench({
      simulation,
      clock,
      bytesPerSecond: options.baudRate === undefined ? null : options.baudRate / 10,
      ...(eye ? { watcher: eye } : {}),
      ...(options.refreshHz === undefined ? {} : { refreshHz: options.refreshHz }),
    })
    if (options.setting) bench.setSetting(options.setting)
    cable = createCable(bench, ptyPath, stop.fail)
    await cable.plugIn()
    if (options.controlPath !== undefined) {
      control = await startControlServer(options.controlPath, handlerOf(bench, cable))
      log(`Control socket ${options.controlPath}`)
    }
    if (options.eye) log(`The eye looks at ${options.eye.size} pixels at ${options.eye.x},${options.eye.y}`)
    log(`Simulated rig (${simulation.panel}, ${simulation.backlight}, seed ${simulation.seed}) on ${ptyPath}`)
    await stop.asked
  } finally {
    stop.release()
    await control?.close()
    await cable?.pull()
    await bench?.dispose()
    await eye?.close()
  }
}

interface Cable {
  readonly plugged: boolean
  plugIn(): Promise<void>
  pull(): Promise<void>
}

function createCable(bench: SimulatedBench, path: string, fail: (error: Error) => void): Cable {
  let terminal: PseudoTerminal | null = null
  let link: ByteLink | null = null
  return {
    get plugged() {
      return terminal !== null
    },
    async plugIn() {
      if (terminal) return
      const opened = await openPseudoTerminal(path, (chunk) => void link?.write(chunk).catch(() => undefined))
      terminal = opened
      link = await bench.open()
      link.onData((chunk) => opened.write(chunk))
      void opened.ended.then((reason) => {
        if (terminal === opened) fail(new AppError('rig-lost', `The pseudo-terminal ended by itself: ${reason}`))
        return undefined
      })
    },
    async pull() {
      const pulled = terminal
      terminal = null
      await link?.close()
      link = null
      await pulled?.close()
    },
  }
}

type Handlers = {
  readonly [D in Exclude<SimControlRequest['do'], 'show'>]: (
    request: Extract<SimControlRequest, { do: D }>,
    signal: AbortSignal,
  ) => Promise<unknown> | void
}

function handlerOf(bench: SimulatedBench, cable: Cable) {
  const handlers: Handlers = {
    row: ({ row }) => bench.setRow(row),
    view: ({ view }) => bench.setView(view),
    react: ({ level }, signal) => bench.react(level, signal),
    'input-event': () => bench.inputEvent(),
    refresh: ({ refreshHz }) => bench.setRefresh(refreshHz),
    setting: ({ setting }) => bench.setSetting(setting),
    patch: ({ patch }) => bench.setPatch(patch),
    cover: ({ covered }) => bench.cover(covered),
    'external-trigger': () => bench.externalTrigger(),
    async fault({ fault }) {
      await bench.inject(fault)
      if (fault === 'unplug') await cable.pull()
      else if ((fault === 'replug' || fault === 'none') && !cable.plugged) await cable.plugIn()
    },
  }
  return async (request: SimControlRequest, signal: AbortSignal): Promise<FrameLog | null> => {
    if (request.do === 'show') return bench.show(request.level, signal)
    // The table has each request's own handler under its name.
    await (handlers[request.do] as (asked: SimControlRequest, stop: AbortSignal) => Promise<unknown> | void)(
      request,
      signal,
    )
    return null
  }
}

function stopper(signal: AbortSignal | undefined): {
  readonly asked: Promise<void>
  readonly fail: (error: Error) => void
  readonly release: () => void
} {
  const controller = new AbortController()
  let failure: Error | null = null
  const asked = new Promise<void>((resolve, reject) => {
    controller.signal.addEventListener('abort', () => (failure ? reject(failure) : resolve()), { once: true })
  })
  // Whoever waits hears of a failure; nobody waiting any more is no reason to crash.
  asked.catch(() => undefined)
  const onEnd = (): void => controller.abort()
  process.on('SIGINT', onEnd)
  process.on('SIGTERM', onEnd)
  signal?.addEventListener('abort', onEnd, { once: true })
  if (signal?.aborted === true) onEnd()
  return {
    asked,
    fail(error) {
      failure = error
      onEnd()
    },
    release() {
      process.off('SIGINT', onEnd)
      process.off('SIGTERM', onEnd)
      signal?.removeEventListener('abort', onEnd)
    },
  }
}
