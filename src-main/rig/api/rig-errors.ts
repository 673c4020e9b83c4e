import { AppError } from '#shared/domain/errors.ts'
import { describeInstrumentError, type InstrumentError } from '../protocol/instrument-error.ts'

/** Errors of the rig, worded in one place. Reasons are sentences without a full stop. */
const RETRY = 'The capture can be retaken; if this happens again, use a shorter cable or another port.'

export function lostError(reason: string, cause?: unknown): AppError {
  return new AppError(
    'rig-lost',
    `The connection to the rig ended: ${reason}.`,
    'Check cable and power. The connection resumes as soon as the rig answers.',
    { cause },
  )
}

/** A failure of one exchange after which the same thing can be tried again. */
export class RigFault extends AppError {
  readonly #kind: 'rig-protocol' | 'rig-timeout'
  readonly #reason: string
  readonly #reported: readonly InstrumentError[]
  constructor(kind: 'rig-protocol' | 'rig-timeout', reason: string, reported: readonly InstrumentError[] = []) {
    const opening = kind === 'rig-protocol' ? "The rig's answer cannot be used" : 'The rig took too long'
    super(kind, `${opening}: ${reason}.${inItsWords(reported)}`, RETRY)
    this.#kind = kind
    this.#reason = reason
    this.#reported = reported
  }
  /** The same failure with what the instrument itself said about it. */
  withReported(reported: readonly InstrumentError[]): RigFault {
    return reported.length === 0 ? this : new RigFault(this.#kind, this.#reason, [...this.#reported, ...reported])
  }
}

export function protocolError(reason: string, reported: readonly InstrumentError[] = []): RigFault {
  return new RigFault('rig-protocol', reason, reported)
}

export function timeoutError(reason: string): RigFault {
  return new RigFault('rig-timeout', reason)
}

export function cancelledError(): AppError {
  return new AppError('cancelled', 'The work with the rig was cancelled.')
}

export function unsuitableError(message: string, remedy: string): AppError {
  return new AppError('rig-unsuitable', message, remedy)
}

export function absentError(): AppError {
  return new AppError('rig-absent', 'No rig is connected.', 'Connect a rig, or the simulated one, first.')
}

export function notScpiError(reason: string): AppError {
  return new AppError(
    'rig-not-scpi',
    `No SCPI instrument answers there: ${reason}.`,
    'Check that this is the port of the rig and that its baud rate matches.',
  )
}

export function inItsWords(reported: readonly InstrumentError[]): string {
  return reported.length === 0 ? '' : ` The rig reports ${reported.map(describeInstrumentError).join('; ')}.`
}

export function isCode(error: unknown, ...codes: readonly string[]): error is AppError {
  return error instanceof AppError && codes.includes(error.code)
}
