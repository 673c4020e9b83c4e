/** Whether a record can be measured at all, judged before anything else: one that cannot is taken again. */
import type { Ladder, RawTrace, Verdict } from '#shared/domain/capture.ts'
import type { SweepPlan, Transition } from '#shared/domain/plan.ts'
import { plateauOf } from './record.ts'

export interface RecordVerdict {
  readonly verdict: Extract<Verdict, 'good' | 'gapped' | 'no-edge'>
  /** Why it is not good, as part of a sentence; empty when it is. */
  readonly why: string
  /** The light edge is not where a record that was triggered by it has it. */
  readonly misplaced: boolean
}

const GOOD: RecordVerdict = { verdict: 'good', why: '', misplaced: false }

/** Share of samples that are no numbers or at the ends of the range above which a record is of no use. */
const MAX_UNUSABLE_SHARE = 0.5
/** Of the time planned before and after the edge, the share that has to be there for the level windows. */
const LEAST_ROOM_SHARE = 0.5
/** Between its first and last plateau a record shows at least this share of the step that the ladder found. */
const LEAST_STEP_SHARE = 0.25
/** Input this close to the end of its range is at it: one step of an 8-bit converter. */
const RAIL_SHARE = 0.99

/**
 * @param crossMidS instant of the 50 % crossing from the record's first sample, s; null when there is none.
 * @param ladder static levels of the sweep; null when they were not taken.
 */
export function checkRecord(
  trace: RawTrace,
  crossMidS: number | null,
  plan: SweepPlan,
  pair: Transition,
  ladder: Ladder | null,
): RecordVerdict {
  const unusable = unusableShare(trace)
  if (unusable > MAX_UNUSABLE_SHARE)
    return {
      verdict: 'gapped',
      why: `${(100 * unusable).toFixed(0)} % of its samples are at the ends of the range or missing`,
      misplaced: false,
    }
  if (crossMidS === null) return { verdict: 'no-edge', why: 'no light edge was found in the record', misplaced: true }
  const share = stepShare(trace, plan, pair, ladder)
  if (share !== null && share < LEAST_STEP_SHARE)
    return { verdict: 'no-edge', why: 'the record does not reach from one level to the other', misplaced: true }
  const afterS = trace.samples.length / trace.sampleRateHz - crossMidS
  if (crossMidS < LEAST_ROOM_SHARE * plan.preS)
    return { verdict: 'no-edge', why: roomWords('before', crossMidS, plan.preS), misplaced: true }
  if (afterS < LEAST_ROOM_SHARE * plan.postS)
    return { verdict: 'no-edge', why: roomWords('after', afterS, plan.postS), misplaced: true }
  return GOOD
}

function roomWords(side: 'before' | 'after', foundS: number, plannedS: number): string {
  const found = (1000 * Math.max(0, foundS)).toFixed(0)
  return `the light edge leaves ${found} ms ${side} it where ${(1000 * plannedS).toFixed(0)} ms were planned`
}

function unusableShare({ samples, scaleV, offsetV, rangeV }: RawTrace): number {
  const limit = rangeV > 0 ? RAIL_SHARE * rangeV : Infinity
  let unusable = 0
  for (let i = 0; i < samples.length; i++) {
    // Written so that a value that is no number counts.
    if (!(Math.abs((samples[i] ?? 0) * scaleV + offsetV) < limit)) unusable += 1
  }
  return unusable / samples.length
}

/** Change from the record's beginning to its end over the ladder's step of the pair; null where the ladder lacks one. */
function stepShare(trace: RawTrace, plan: SweepPlan, pair: Transition, ladder: Ladder | null): number | null {
  const from = ladder?.steps.find((step) => step.level === pair.from)
  const to = ladder?.steps.find((step) => step.level === pair.to)
  if (from === undefined || to === undefined || from.meanV === to.meanV) return null
  const count = trace.samples.length
  const head = Math.max(1, Math.floor((plan.preS / 2) * trace.sampleRateHz))
  const tail = Math.max(1, Math.floor((plan.postS / 4) * trace.sampleRateHz))
  const mean = (first: number, end: number): number =>
    plateauOf({ ...trace, samples: trace.samples.subarray(first, end) }, plan.refreshHz).meanV
  return (mean(Math.max(0, count - tail), count) - mean(0, Math.min(head, count))) / (to.meanV - from.meanV)
}
