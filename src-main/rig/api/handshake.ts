import { toErrorDetail } from '#shared/domain/errors.ts'
import type { RigCapabilities, RigIdentity } from '#shared/domain/rig.ts'
import { CLEAR, CRC_HEADER, HEADERS, IDENTIFY, NEEDED_HEADERS, SELF_TEST } from '../protocol/commands.ts'
import { hasHeader, parseHeaderList } from '../protocol/headers.ts'
import { errorClass } from '../protocol/instrument-error.ts'
import { parseIdentity } from '../protocol/identity.ts'
import { parseInteger } from '../protocol/numbers.ts'
import { inItsWords, isCode, notScpiError, protocolError, unsuitableError } from './rig-errors.ts'
import { BABBLE, type ScpiSession } from './scpi-session.ts'
import type { RigTimings } from './timings.ts'

export interface Introduction {
  readonly identity: RigIdentity
  readonly capabilities: RigCapabilities
}

const HEADER_LIST_BYTES = 65_536
/** How often something is asked for before the rig is given up. */
const ATTEMPTS = {
  /** Boards that restart when the port opens need a moment; a first connection may begin with rubbish. */
  identity: 3,
  /** A header list that arrives damaged. */
  headers: 3,
  /** A question of the handshake, until two answers agree. */
  agreement: 5,
}

/**
 * Quiet line → `*CLS` → `*IDN?` → headers → self-test. Nothing protects these answers and everything later rests on them
 * (a lost letter would switch checksums off), so each is asked again until two answers agree. Rejects with
 * `rig-not-scpi` when nothing there speaks SCPI and with `rig-unsuitable` when it does but lacks what the recording
 * sequence needs, by name, or fails its self-test.
 */
export async function introduce(
  session: ScpiSession,
  timings: RigTimings,
  signal?: AbortSignal,
): Promise<Introduction> {
  const identity = await firstContact(session, timings, signal)
  const headers = await agreed('SYST:HELP:HEAD?', async () => readHeaders(session, signal))
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
    return await agreed('*IDN?', async () => identify(session, timings, signal))
  } catch (error) {
    if (session.lost === BABBLE) throw notScpiError('it sends without stopping, whatever it is asked')
    throw error
  }
}

async function identify(
  session: ScpiSession,
  timings: RigTimings,
  signal: AbortSignal | undefined,
): Promise<RigIdentity> {
  let problem = 'nothing came back'
  for (let attempt = 1; attempt <= ATTEMPTS.identity; attempt++) {
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

async function agreed<T>(question: string, ask: () => Promise<T>): Promise<T> {
  const seen = new Set<string>()
  for (let attempt = 1; attempt <= ATTEMPTS.agreement; attempt++) {
    const answer = await ask()
    const text = JSON.stringify(answer)
    if (seen.has(text)) return answer
    seen.add(text)
  }
  throw protocolError(`${question} was answered ${ATTEMPTS.agreement} times, each time differently`)
}

/** Empty when the instrument says that it has no such query, which older ones lack, or never answers it. */
async function readHeaders(session: ScpiSession, signal: AbortSignal | undefined): Promise<string[]> {
  for (let attempt = 1; ; attempt++)
    try {
      const [block] = await session.query([HEADERS], ['block'], {
        signal,
        limits: { maxBlockBytes: HEADER_LIST_BYTES },
      })
      return parseHeaderList(Buffer.from(block as Uint8Array).toString('latin1'))
    } catch (error) {
      if (!isCode(error, 'rig-timeout', 'rig-protocol')) throw error
      const reported = await session.resync(signal)
      // Only its own word for it is proof; silence may be an answer that was lost on the way.
      if (reported.some(({ code }) => errorClass(code) === 'command')) return []
      if (attempt < ATTEMPTS.headers) continue
      if (isCode(error, 'rig-timeout')) return []
      throw error
    }
}

async function selfTest(session: ScpiSession, timings: RigTimings, signal: AbortSignal | undefined): Promise<void> {
  const text = await agreed('*TST?', async () => {
    const [answer = ''] = await session.queryTexts([SELF_TEST], 1, { signal, firstByteS: timings.selfTestS })
    return answer
  })
  const reported = await session.sendChecked([], signal)
  if (parseInteger(text) === 0) return
  throw unsuitableError(
    `The rig's self-test failed (*TST? answered ${text.slice(0, 60)}).${inItsWords(reported)}`,
    'Switch the rig off and on; if it fails again, have it serviced.',
  )
}
