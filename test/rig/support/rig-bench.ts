import type { Clock, Log, RecordSettings } from '#main/core/ports.ts'
import { createClock } from '#main/platform/clock.ts'
import { createRig, type ManagedRig, type RigDeps } from '#main/rig/api/rig-manager.ts'
import type { RigTimings } from '#main/rig/api/timings.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { RigState, RigTarget } from '#shared/domain/rig.ts'
import { afterAll, beforeAll } from 'vitest'
import { manualClock } from '../../simulated/manual-clock.ts'
import type { FakeInstrument } from './fake-instrument.ts'

/** Jumps from event to event: what happens in memory does not depend on the machine's speed. */
export const clock = manualClock()
let stop: () => void
beforeAll(() => {
  stop = clock.run()
})
afterAll(() => stop())
/** For links through the operating system. */
export const realClock: Clock = createClock()
export const silentLog: Log = { info: () => undefined, warn: () => undefined, error: () => undefined }

export const FAST: RigTimings = {
  answerS: 0.06,
  silenceS: 0.06,
  quietS: 0.01,
  drainS: 0.6,
  bootS: 0.3,
  selfTestS: 0.2,
  confirmS: 0.15,
  overdueS: 0.15,
  triggerWaitS: 0.15,
  transferLimitS: 5,
  reconnectS: 0.03,
  heartbeatS: 30,
}

export const SERIAL: RigTarget = { kind: 'serial', path: '/dev/example', baudRate: 115_200 }

export const SETTINGS: RecordSettings = {
  sampleRateHz: 50_000,
  points: 1000,
  preTriggerPoints: 100,
  rangeV: 5,
  trigger: { source: 'bus' },
  transfer: 'int16',
}

/** A rig manager whose serial port is the fake instrument. */
export function rigOn(instrument: FakeInstrument, deps: Partial<RigDeps> = {}): ManagedRig {
  return createRig({
    clock,
    log: silentLog,
    openSerial: async () => instrument.plug(),
    listSerialPorts: async () => [],
    openSimulated: () => Promise.reject(new AppError('internal', 'No simulated rig in this test.')),
    ...deps,
    timings: { ...FAST, ...deps.timings },
  })
}

export async function connected(instrument: FakeInstrument, deps: Partial<RigDeps> = {}): Promise<ManagedRig> {
  const rig = rigOn(instrument, deps)
  await rig.connect(SERIAL)
  return rig
}

export async function until(rig: ManagedRig, wanted: (state: RigState) => boolean, seconds = 60): Promise<RigState> {
  if (wanted(rig.state())) return rig.state()
  return new Promise((resolve, reject) => {
    const timer = setTimeout(() => {
      release()
      reject(new Error(`still ${JSON.stringify(rig.state())}`))
    }, seconds * 1000)
    const release = rig.onState((state) => {
      if (!wanted(state)) return
      clearTimeout(timer)
      release()
      resolve(state)
    })
  })
}

/** The AppError a promise rejects with; fails when it does not. */
export async function failure(promise: Promise<unknown>): Promise<AppError> {
  try {
    await promise
  } catch (error) {
    if (error instanceof AppError) return error
    throw error
  }
  throw new Error('It was expected to fail.')
}
