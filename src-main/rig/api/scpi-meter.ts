/** One number of a luminance meter or power analyser that speaks SCPI: `MEASure…?` answers with NR3. */
import type { Clock, Log } from '#main/core/ports.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { Meter, MeterReading } from '#shared/domain/meter.ts'
import { CLEAR, IDENTIFY } from '../protocol/commands.ts'
import { describeInstrumentError } from '../protocol/instrument-error.ts'
import { parseNumber } from '../protocol/numbers.ts'
import type { ByteLink } from '../transport/link.ts'
import { openTcp } from '../transport/tcp.ts'
import { isCode, protocolError, unsuitableError } from './rig-errors.ts'
import { ScpiSession } from './scpi-session.ts'
import { RIG_TIMINGS, type RigTimings } from './timings.ts'

/** A meter integrates over dark light for as long as this before it answers, s. */
const INTEGRATION_S = 20
/** A query and nothing else: one header that begins with MEASure, its parameters, no second command. */
const QUERY = /^:?MEAS(?:ure)?(?::[A-Za-z0-9]+)*\?(?: [A-Za-z0-9.,+ -]*)?$/i

/**
 * Clears the instrument, asks who it is, measures once, and reads its error queue. Closes the link. Rejects with
 * `invalid-input` for another query, `rig-timeout`, `rig-protocol` for an answer that is no number, `rig-unsuitable` for
 * one beyond the meter's range (±9.9E37), for not-a-number (9.91E37), and where the instrument reports an error.
 */
async function readMeter(
  link: ByteLink,
  query: string,
  deps: {
    readonly clock: Clock
    readonly log: Log
    readonly timings?: Partial<RigTimings>
    readonly signal?: AbortSignal
  },
): Promise<MeterReading> {
  const { clock, log, signal } = deps
  const session = new ScpiSession(link, { clock, log, timings: { ...RIG_TIMINGS, ...deps.timings } })
  try {
    if (!QUERY.test(query.trim()))
      throw new AppError(
        'invalid-input',
        `“${query}” is not a measuring query.`,
        'Write one such as MEAS? or MEAS:POW?',
      )
    let [identity = ''] = await session.queryTexts([CLEAR, IDENTIFY], 1, { signal })
    if (parseNumber(identity) !== null) {
      // A late answer to what was asked before this line was opened.
      await session.resync(signal)
      identity = (await session.queryTexts([IDENTIFY], 1, { signal }))[0] ?? ''
    }
    const [answer = ''] = await session.queryTexts([query.trim()], 1, {
      signal,
      firstByteS: deps.timings?.answerS ?? INTEGRATION_S,
    })
    const reported = await session.sendChecked([], signal)
    if (reported.length > 0)
      throw unsuitableError(
        `The meter reports ${reported.map(describeInstrumentError).join('; ')}.`,
        'Check its settings, and that it knows the query.',
      )
    const value = parseNumber(answer)
    if (value === null) throw protocolError(`"${answer.slice(0, 60)}" is not a number`)
    if (!Number.isFinite(value))
      throw unsuitableError(
        Number.isNaN(value)
          ? 'The meter has no number for this light.'
          : 'The light or power is beyond the meter’s range.',
        'Choose another range of the meter, then read it again.',
      )
    return { value, identity }
  } finally {
    await session.close()
  }
}

/** Opens the meter's line, reads it once, and lets it go. */
export function createMeters(deps: {
  readonly clock: Clock
  readonly log: Log
  readonly openSerial: (path: string, baudRate: number) => Promise<ByteLink>
  readonly timings?: Partial<RigTimings>
}): { read(meter: Meter, query: string, signal?: AbortSignal): Promise<MeterReading> } {
  return {
    async read(meter, query, signal) {
      const { openSerial, ...rest } = deps
      try {
        const opened = meter.kind === 'tcp' ? openTcp(meter.host, meter.port) : openSerial(meter.path, meter.baudRate)
        return await readMeter(await opened, query, { ...rest, ...(signal === undefined ? {} : { signal }) })
      } catch (error) {
        if (!isCode(error, 'rig-timeout', 'rig-protocol', 'rig-lost')) throw error
        throw new AppError(
          error.code,
          error.message.replace(/\brig\b/g, 'meter'),
          'Check cable, address, rate and power of the meter, then read it again, or type the value in.',
          { cause: error },
        )
      }
    },
  }
}
