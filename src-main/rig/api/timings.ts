/** Waiting times of the rig host, s. Tests shorten them; nothing else does. */
export interface RigTimings {
  /** An instrument's time to begin an ordinary answer. */
  readonly answerS: number
  /** Longest gap inside an answer. */
  readonly silenceS: number
  /** A line without bytes for this long counts as quiet. */
  readonly quietS: number
  /** A line that does not become quiet within this time is given up. */
  readonly drainS: number
  /** A line just opened may talk for this long before it is quiet. */
  readonly bootS: number
  /** A self-test's time. */
  readonly selfTestS: number
  /** Time for the rig to confirm that it waits for its trigger, beyond the pre-trigger span. */
  readonly confirmS: number
  /** Time beyond the record's own length after which an acquisition is overdue. */
  readonly overdueS: number
  /** Wait for a light edge when the settings name none. */
  readonly triggerWaitS: number
  /** Longest transfer of a block when the settings name none. */
  readonly transferLimitS: number
  /** Pause between attempts to reach a lost rig again. */
  readonly reconnectS: number
  /** An idle rig is asked for a sign of life this often. */
  readonly heartbeatS: number
}

export const RIG_TIMINGS: RigTimings = {
  answerS: 1.5,
  silenceS: 1.5,
  quietS: 0.12,
  drainS: 60,
  bootS: 5,
  selfTestS: 30,
  confirmS: 3,
  overdueS: 3,
  triggerWaitS: 3,
  transferLimitS: 10,
  reconnectS: 1,
  heartbeatS: 2,
}

/** Spans of what is measured or planned; all others are real waiting for a machine. */
const OF_THE_RECORD: readonly (keyof RigTimings)[] = ['triggerWaitS', 'transferLimitS']

/** The same real waiting on a clock that runs `rate` times as fast. */
export function timingsAtRate(rate: number): RigTimings {
  const scaled: Record<keyof RigTimings, number> = { ...RIG_TIMINGS }
  for (const name of Object.keys(scaled) as (keyof RigTimings)[])
    if (!OF_THE_RECORD.includes(name)) scaled[name] *= rate
  return scaled
}
