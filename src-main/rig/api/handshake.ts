import { toErrorDetail } from '#shared/domain/errors.ts'
import type { RigCapabilities, RigIdentity } from '#shared/domain/rig.ts'
import { CLEAR, CRC_HEADER, HEADERS, IDENTIFY, NEEDED_HEADERS, SELF_TEST } from '../protocol/commands.ts'
import { hasHeader, parseHeaderList } from '../protocol/headers.ts'
import { parseIdentity } from '../protocol/identity.ts'
import { parseInteger } from '../protocol/numbers.ts'
import { inItsWords, isCode, notScpiError, unsuitableError } from './rig-errors.ts'
import { BABBLE, type ScpiSession } from './scpi-session.ts'
import type { RigTimings } from './timings.ts'

export interface Introduction {
  readonly identity: RigIdentity
  readonly capabilities: RigCapabilities
}

/** Boards that restart when the port opens need a moment; a first connection may begin with rubbish. */
const IDENTIFY_ATTEMPTS = 3
const HEADER_LIST_BYTES = 65_536

/**
 * Quiet line → `*CLS` → `*IDN?` → headers → self-test. Rejects with `rig-not-scpi` when nothing there speaks SCPI and
 * with `rig-unsuitable` when it does but lacks what the recording sequence needs, by name, or fails its self-test.
 */
export async function introduce(
  session: ScpiSession,
  timings: RigTimings,
  signal?: AbortSignal,
): Promise<Introduction> {
  const identity = await firstContact(session, timings, signal)
  const headers = await readHeaders(session, signal)
  const missing = headers.length === 0 ? [] : NEEDED_HEADERS.filter((header) => !hasHeader(headers, header))
  if (missing.length > 0)
    throw unsuitableError(
      `The rig ${identity.manufacturer} ${identity.model} does not know ${missing.join(', ')}.`,
      'Use a digitizer with the standard SCPI sweep, trigger, format and status commands, or newer firmware.',
    )
  await selfTest(session, timings, signal)
  return { identity, capabilities: { headers, crc: headers.length > 0 && hasHeader(headers, CRC_HEADER) } }
}

async function firstContact(
  session: ScpiSession,
  timings: RigTimings,
  signal: AbortSignal | undefined,
): Promise<RigIdentity> {
  try {
    await session.waitForQuiet(timings.bootS, signal)
    return await identify(session, timings, signal)
  } catch (error) {
    if (session.lost === BABBLE) throw notScpiError('it sends without end, whatever it is asked')
    throw error
  }
}

async function identify(
  session: ScpiSession,
  timings: RigTimings,
  signal: AbortSignal | undefined,
): Promise<RigIdentity> {
  let problem = 'nothing came back'
  for (let attempt = 1; attempt <= IDENTIFY_ATTEMPTS; attempt++) {
    try {
      // The empty line ends whatever an earlier program left half sent.
      const [text = ''] = await session.queryTexts(['', CLEAR, IDENTIFY], 1, { signal })
      const identity = parseIdentity(text)
      if (identity !== null) return identity
      problem = `*IDN? was answered with "${text.slice(0, 60)}"`
    } catch (error) {
      if (!isCode(error, 'rig-timeout', 'rig-protocol')) throw error
      problem = isCode(error, 'rig-timeout')
        ? 'nothing came back on *IDN?'
        : toErrorDetail(error).message.replace(/\.$/, '')
    }
    // Not the full resynchronising: whatever is there has not shown yet that it has an error queue.
    session.assumeInStep()
    await session.waitForQuiet(timings.bootS, signal)
  }
  throw notScpiError(problem)
}

/** Empty when the instrument has no such query, which older ones lack. */
async function readHeaders(session: ScpiSession, signal: AbortSignal | undefined): Promise<string[]> {
  try {
    const [block] = await session.query([HEADERS], ['block'], { signal, limits: { maxBlockBytes: HEADER_LIST_BYTES } })
    return parseHeaderList(Buffer.from(block as Uint8Array).toString('latin1'))
  } catch (error) {
    if (!isCode(error, 'rig-timeout', 'rig-protocol')) throw error
    const reported = await session.resync(signal)
    // Damaged rather than refused: once more.
    if (isCode(error, 'rig-protocol') && reported.length === 0) {
      const [block] = await session.query([HEADERS], ['block'], {
        signal,
        limits: { maxBlockBytes: HEADER_LIST_BYTES },
      })
      return parseHeaderList(Buffer.from(block as Uint8Array).toString('latin1'))
    }
    return []
  }
}

async function selfTest(session: ScpiSession, timings: RigTimings, signal: AbortSignal | undefined): Promise<void> {
  const [text = ''] = await session.queryTexts([SELF_TEST], 1, { signal, firstByteS: timings.selfTestS })
  const verdict = parseInteger(text)
  const reported = await session.sendChecked([], signal)
  if (verdict === 0) return
  throw unsuitableError(
    `The rig's self-test failed (*TST? answered ${text}).${inItsWords(reported)}`,
    'Switch the rig off and on; if it fails again, have it looked at.',
  )
}
