import { linkedController } from '#main/core/linked-controller.ts'
import type { Clock, Digitizer, Log, Rig } from '#main/core/ports.ts'
import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import type { RigIdentity, RigState, RigTarget, SerialPortInfo, SimFault } from '#shared/domain/rig.ts'
import type { ByteLink, OpenSimulated, SimulatedInstrument } from '../transport/link.ts'
import { introduce } from './handshake.ts'
import { absentError, isCode, lostError } from './rig-errors.ts'
import { ScpiDigitizer } from './scpi-digitizer.ts'
import { ScpiSession } from './scpi-session.ts'
import { type RigTimings, timingsAtRate } from './timings.ts'
import { pause, throwIfCancelled } from './waiting.ts'

export interface RigDeps {
  readonly clock: Clock
  readonly log: Log
  readonly openSerial: (path: string, baudRate: number) => Promise<ByteLink>
  readonly listSerialPorts: () => Promise<SerialPortInfo[]>
  readonly openSimulated: OpenSimulated
  /** Hands a fault to a simulated rig on a pseudo-terminal through its control socket. */
  readonly injectAtSocket?: (controlPath: string, fault: SimFault) => Promise<void>
  readonly timings?: Partial<RigTimings>
}

/** A rig that can be shut down with the program. */
export interface ManagedRig extends Rig {
  close(): Promise<void>
}

const NOTHING: RigState = {
  status: 'absent',
  target: null,
  identity: null,
  capabilities: null,
  problem: null,
  losses: 0,
}

export function createRig(deps: RigDeps): ManagedRig {
  return new RigManager(deps)
}

/**
 * Holds at most one rig. `connect` brings one up; when it is lost it is tried again about once a second, and the state
 * goes back to `ready` by itself once the same instrument answers.
 */
class RigManager implements ManagedRig {
  readonly #deps: RigDeps
  readonly #timings: RigTimings
  readonly #listeners = new Set<(state: RigState) => void>()
  #state: RigState = NOTHING
  #session: ScpiSession | null = null
  #digitizer: ScpiDigitizer | null = null
  #simulated: SimulatedInstrument | null = null
  /** Ends whatever belongs to the present target: connecting, reconnecting, heartbeat. */
  #life = new AbortController()
  #work: Promise<unknown> = Promise.resolve()

  constructor(deps: RigDeps) {
    this.#deps = deps
    this.#timings = { ...timingsAtRate(deps.clock.rate ?? 1), ...deps.timings }
  }

  state(): RigState {
    return this.#state
  }

  onState(listener: (state: RigState) => void): () => void {
    this.#listeners.add(listener)
    return () => this.#listeners.delete(listener)
  }

  async ports(): Promise<SerialPortInfo[]> {
    return this.#deps.listSerialPorts()
  }

  async connect(target: RigTarget, signal?: AbortSignal): Promise<void> {
    throwIfCancelled(signal)
    await this.#letGo()
    const life = this.#life
    const { controller, release } = linkedController(signal)
    const end = (): void => controller.abort()
    life.signal.addEventListener('abort', end, { once: true })
    this.#set({ ...NOTHING, status: 'connecting', target })
    try {
      const work = this.#bringUp(target, life, controller.signal)
      this.#work = work.catch(() => undefined)
      await work
    } catch (error) {
      if (life === this.#life) {
        await this.#release()
        const { message, remedy } = toErrorDetail(error)
        this.#set({ ...NOTHING, problem: isCode(error, 'cancelled') ? null : { message, remedy } })
      }
      throw error
    } finally {
      life.signal.removeEventListener('abort', end)
      release()
    }
  }

  async disconnect(): Promise<void> {
    await this.#letGo()
    this.#set(NOTHING)
  }

  async close(): Promise<void> {
    await this.disconnect()
    this.#listeners.clear()
  }

  digitizer(): Digitizer {
    if (this.#state.status === 'lost') throw lostError(this.#session?.lost ?? 'it does not answer')
    if (this.#digitizer === null) throw absentError()
    return this.#digitizer
  }

  async inject(fault: SimFault): Promise<void> {
    const { target } = this.#state
    if (this.#simulated !== null) return this.#simulated.inject(fault)
    if (target?.kind === 'serial' && target.controlPath !== undefined && this.#deps.injectAtSocket !== undefined)
      return this.#deps.injectAtSocket(target.controlPath, fault)
    throw new AppError(
      'conflict',
      'Faults can be produced only by the simulated rig.',
      'Connect the simulated rig first.',
    )
  }

  #set(state: RigState): void {
    this.#state = state
    for (const listener of this.#listeners) listener(state)
  }

  #update(change: Partial<RigState>): void {
    this.#set({ ...this.#state, ...change })
  }

  /** Ends the present target's life and waits until nothing of it is left. */
  async #letGo(): Promise<void> {
    this.#life.abort()
    this.#life = new AbortController()
    await this.#work
    await this.#release()
  }

  async #release(): Promise<void> {
    const session = this.#session
    const simulated = this.#simulated
    this.#session = null
    this.#digitizer = null
    this.#simulated = null
    await session?.close().catch((error: unknown) => this.#deps.log.warn('The link did not close.', detail(error)))
    await simulated
      ?.dispose()
      .catch((error: unknown) => this.#deps.log.warn('The simulated rig did not end.', detail(error)))
  }

  async #openLink(target: RigTarget): Promise<ByteLink> {
    if (target.kind === 'serial') return this.#deps.openSerial(target.path, target.baudRate)
    this.#simulated ??= await this.#deps.openSimulated(target.simulation)
    return this.#simulated.open()
  }

  async #bringUp(target: RigTarget, life: AbortController, signal: AbortSignal, before?: RigIdentity): Promise<void> {
    const { clock, log } = this.#deps
    const link = await this.#openLink(target)
    const session = new ScpiSession(link, { clock, log, timings: this.#timings })
    try {
      throwIfCancelled(signal)
      const { identity, capabilities } = await introduce(session, this.#timings, signal)
      throwIfCancelled(signal)
      if (before !== undefined && !sameInstrument(before, identity))
        throw new AppError(
          'rig-unsuitable',
          `Another rig answers now: ${describe(identity)} instead of ${describe(before)}.`,
          'Put the earlier one back, or connect again to continue with this one.',
        )
      this.#session = session
      this.#digitizer = new ScpiDigitizer({
        session,
        capabilities,
        clock,
        log,
        timings: this.#timings,
        onRecording: (recording) => {
          if (this.#session === session && session.lost === null)
            this.#update({ status: recording ? 'recording' : 'ready' })
        },
        onLoss: (reason) => {
          log.warn('A block was discarded.', { reason })
          if (life === this.#life) this.#update({ losses: this.#state.losses + 1 })
        },
      })
      session.onLost((reason) => this.#lost(target, life, session, identity, reason))
      if (session.lost !== null) throw lostError(session.lost)
      log.info('The rig is ready.', { ...identity, crc: capabilities.crc })
      this.#update({ status: 'ready', target, identity, capabilities, problem: null })
      void this.#heartbeat(session, life.signal)
    } catch (error) {
      await session.close().catch((failure: unknown) => log.warn('The link did not close.', detail(failure)))
      throw error
    }
  }

  #lost(target: RigTarget, life: AbortController, session: ScpiSession, identity: RigIdentity, reason: string): void {
    if (life !== this.#life || this.#session !== session) return
    this.#deps.log.warn('The rig is lost.', { reason })
    const { message, remedy } = lostError(reason)
    this.#update({ status: 'lost', problem: { message, remedy } })
    this.#work = this.#reconnect(target, life, session, identity)
  }

  async #reconnect(target: RigTarget, life: AbortController, old: ScpiSession, identity: RigIdentity): Promise<void> {
    const { clock, log } = this.#deps
    await old.close().catch((error: unknown) => log.warn('The lost link did not close.', detail(error)))
    while (!life.signal.aborted) {
      try {
        await pause(clock, this.#timings.reconnectS, life.signal)
        await this.#bringUp(target, life, life.signal, identity)
        return
      } catch (error) {
        if (life.signal.aborted) return
        const { message, remedy } = toErrorDetail(error)
        if (this.#state.problem?.message !== message) {
          log.info('The rig is not back yet.', { message })
          if (!isCode(error, 'rig-absent', 'rig-lost')) this.#update({ problem: { message, remedy } })
        }
      }
    }
  }

  /** An idle rig is asked for a sign of life, so that a dead one is noticed before it is needed. */
  async #heartbeat(session: ScpiSession, stop: AbortSignal): Promise<void> {
    const { clock } = this.#deps
    try {
      while (session.lost === null) {
        const dueS = session.usedAt + this.#timings.heartbeatS - clock.now()
        if (dueS > 0 || this.#state.status !== 'ready') {
          await pause(clock, Math.max(dueS, this.#timings.heartbeatS / 4), stop)
          continue
        }
        await session.queryTexts(['*STB?'], 1).catch(async (error: unknown) => {
          if (isCode(error, 'rig-protocol', 'rig-timeout')) await session.resync()
        })
      }
    } catch (error) {
      if (!isCode(error, 'cancelled', 'rig-lost')) this.#deps.log.error('The heartbeat failed.', detail(error))
    }
  }
}

function detail(error: unknown): Record<string, unknown> {
  return { problem: error instanceof Error ? error.message : String(error) }
}

function sameInstrument(a: RigIdentity, b: RigIdentity): boolean {
  return a.manufacturer === b.manufacturer && a.model === b.model && a.serial === b.serial
}

function describe(identity: RigIdentity): string {
  return [identity.manufacturer, identity.model, identity.serial].filter((part) => part !== '').join(' ')
}
