/** What earlier visits of a display looked like, from the canaries stored with them. */
import type { Visit } from '#shared/domain/campaign-plan.ts'
import { hertz } from '#shared/domain/quantity-text.ts'
import type { NewReading } from '#shared/domain/reading.ts'
import { compareCanaries } from '#shared/findings/campaign/canary.ts'
import type { Store } from '../ports.ts'
import { type Canary, paired } from './visit-check.ts'

const KIND = 'canary'

/** One in 100 campaigns of 24 changes stops by chance when nothing is wrong. */
const ALPHA = 4.4e-4

export interface PastVisit extends Visit {
  readonly sweepId: number
  readonly canaries: readonly Canary[]
}

export const canaryReadings = (
  campaignId: number,
  sweepId: number,
  canaries: readonly Canary[],
  at: string,
): NewReading[] =>
  canaries.map(({ from, to, durationsS }) => ({
    campaignId,
    sweepId,
    kind: KIND,
    quantity: `transition duration ${from} to ${to}`,
    unit: 's',
    value: null,
    series: [...durationsS],
    u: null,
    source: 'check at the start of a sweep',
    place: `${from}-${to}`,
    note: '',
    setting: null,
    refreshHz: null,
    at,
  }))

/**
 * Canaries of every sweep of a campaign that has them, oldest first; of a sweep visited again, the newest ones. A hidden
 * sweep says nothing: it may have been taken again because the display was not as it should have been.
 */
export async function earlierCanaries(store: Store, campaignId: number): Promise<PastVisit[]> {
  const readings = await store.readings({ campaignId, kind: KIND })
  const bySweep = new Map<number, Map<string, Canary>>()
  for (const { sweepId, place, series } of readings) {
    const [, from, to] = /^(\d+)-(\d+)$/.exec(place) ?? []
    if (sweepId === null || from === undefined || to === undefined || series === null) continue
    const canaries = bySweep.get(sweepId) ?? new Map<string, Canary>()
    canaries.set(place, {
      from: Number(from),
      to: Number(to),
      durationsS: series.filter((value) => value !== null),
    })
    bySweep.set(sweepId, canaries)
  }
  const visits: PastVisit[] = []
  for (const [sweepId, canaries] of bySweep) {
    const { setting, refreshHz, hidden } = await store.sweep({ sweepId })
    if (!hidden) visits.push({ sweepId, setting, refreshHz, canaries: [...canaries.values()] })
  }
  return visits
}

/**
 * Whether what is seen fits the visit: not as another setting looked at this refresh rate, and as this one did when it
 * was visited before. Null when nothing speaks against it, which is not a proof.
 */
export function judgeVisit(
  visit: Visit,
  canaries: readonly Canary[],
  history: readonly PastVisit[],
  margin: number,
): { kind: 'unchanged' | 'differs'; reason: string } | null {
  const compare = (past: PastVisit) => {
    const { before, after, whole } = paired(past.canaries, canaries)
    if (before.length === 0) return null
    const found = compareCanaries(before, after, ALPHA, margin)
    // A transition that could be measured at one visit and not at the other is a difference of its own.
    return found.answer === 'unchanged' && !whole ? { ...found, answer: 'cannot-tell' as const } : found
  }
  const atThisRate = history.filter(({ refreshHz }) => refreshHz === visit.refreshHz)
  const same = atThisRate.filter(({ setting }) => setting === visit.setting).at(-1)
  const others = atThisRate.filter(({ setting }) => setting !== visit.setting)
  const own = same === undefined ? null : compare(same)
  if (own?.answer === 'unchanged') return null
  for (const past of [...others].sort((a, b) => b.sweepId - a.sweepId)) {
    const found = compare(past)
    if (found?.answer !== 'unchanged') continue
    return {
      kind: 'unchanged',
      reason: `This still looks like ${past.setting}: at ${hertz(visit.refreshHz)} Hz the checked transitions are all within ${percent(margin)} of those of ${past.setting}.`,
    }
  }
  if (own?.answer !== 'changed') return null
  return {
    kind: 'differs',
    reason: `${visit.setting} at ${hertz(visit.refreshHz)} Hz looks different from before: the checked transitions changed by up to ${percent(Math.abs(own.largestChange))}.`,
  }
}

const percent = (share: number): string => `${(100 * share).toFixed(1)} %`
