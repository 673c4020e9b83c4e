/** Between two sweeps of a run: the display is changed by whoever changes it, asked for where that is a person, and checked. */
import type { CampaignPlan, Visit } from '#shared/domain/campaign-plan.ts'
import { AppError } from '#shared/domain/errors.ts'
import { hertz } from '#shared/domain/quantity-text.ts'
import type { Run, RunAnswer, RunProgress, RunQuestion } from '#shared/domain/run.ts'
import type { Hub } from '../hub.ts'
import { waitForAnswer } from '../wait-for-answer.ts'
import type { Look } from './look.ts'
import { nameOf } from './run-changes.ts'

/** How setting and refresh rate get changed between sweeps. */
export type Changer =
  /** A person does it; the run waits for an answer. */
  | { readonly kind: 'ask' }
  /** A program of the operator does it; its exit code says whether it did. */
  | { readonly kind: 'command'; readonly run: (visit: Visit, signal: AbortSignal) => Promise<void> }
  /** A simulated display that follows the plan. */
  | { readonly kind: 'follows' }

/** The part of a run at work that stands before a sweep. */
export interface AtVisit {
  readonly run: Run
  readonly plan: CampaignPlan
  readonly step: AbortController
  /** Takes the answer; null while nothing is asked. */
  waiting: ((answer: RunAnswer) => void) | null
  /** What the display is believed to be set to; null when nobody knows. */
  current: Visit | null
}

/** Brings the display to a visit and believes it only when refresh and canaries say so. */
export type Arrive<T extends AtVisit> = (mine: T, sweepId: number, visit: Visit) => Promise<'go' | 'skip'>

export function createArrival<T extends AtVisit>(deps: {
  readonly hub: Hub
  readonly look: Look
  readonly changer: () => Changer
  readonly show: (mine: T, change: Partial<RunProgress>) => void
}): Arrive<T> {
  const { hub, look, changer, show } = deps

  function ask(mine: T, question: RunQuestion): Promise<RunAnswer> {
    return waitForAnswer(mine, mine.step.signal, {
      asked: () => show(mine, { phase: 'asking', question, visit: question.visit }),
      over: () => show(mine, { question: null }),
      stopped: 'The run was paused.',
    })
  }

  async function changeTo(mine: T, visit: Visit, kind: RunQuestion['kind'], reason: string): Promise<RunAnswer> {
    const by = changer()
    if (by.kind === 'follows') return 'again'
    if (by.kind === 'command') {
      await by.run(visit, mine.step.signal)
      return 'again'
    }
    const before = mine.current
    const what = [
      before?.setting === visit.setting && kind === 'change' ? '' : `overdrive to ${visit.setting}`,
      before?.refreshHz === visit.refreshHz && kind === 'change' ? '' : `refresh rate to ${hertz(visit.refreshHz)} Hz`,
    ].filter((part) => part !== '')
    return ask(mine, {
      kind,
      visit,
      instruction: `Set ${what.join(' and ')}`,
      reason,
      answers: kind === 'unchanged' || kind === 'differs' ? ['again', 'accept', 'skip'] : ['again', 'skip'],
    })
  }

  return async function arrive(mine, sweepId, visit) {
    let reason = ''
    let kind: RunQuestion['kind'] = 'change'
    const before = mine.current
    let settled = mine.current?.setting === visit.setting && mine.current.refreshHz === visit.refreshHz
    for (;;) {
      if (!settled) {
        const answer = await changeTo(mine, visit, kind, reason)
        if (answer === 'skip') return 'skip'
        if (answer === 'accept') {
          await hub.note('warn', `Accepted as it is: ${nameOf(visit)}. ${reason}`, sweepId)
          mine.current = visit
          return 'go'
        }
        // As it was said: a rig that is lost from here on is no reason to ask again.
        mine.current = visit
      }
      show(mine, { phase: 'checking', visit })
      const found = await look(
        { campaignId: mine.run.campaignId, sweepId, visit, marginPct: mine.plan.canaryMarginPct },
        mine.step.signal,
      )
      if (found === null) return 'go'
      mine.current = before
      await hub.note('warn', found.reason, sweepId)
      ;({ kind, reason } = found)
      settled = false
      if (changer().kind !== 'ask')
        throw new AppError('stimulus-mismatch', reason, 'Set the display by hand, then resume the run.')
    }
  }
}
