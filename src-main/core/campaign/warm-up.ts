/** White watched until it drifts less than a stated rate. */
import type { SweepPlan } from '#shared/domain/plan.ts'
import type { NewReading } from '#shared/domain/reading.ts'
import type { WarmUp } from '#shared/domain/run.ts'
import type { LevelChanger } from '../level-changer.ts'
import type { Clock, Digitizer } from '../ports.ts'
import { plateauOf, recordNow } from '../record.ts'

type WhitePoint = WarmUp['points'][number]

const EVERY_S = 5
/** The drift is that of a straight line over the last two minutes. */
const OVER_S = 120

/**
 * Shows the brightest level and reads it every five seconds until the drift over two minutes is under the limit, or the
 * time is up. `onPoint` is told after every reading.
 */
export async function warmUp(
  deps: { readonly digitizer: Digitizer; readonly changer: LevelChanger; readonly clock: Clock },
  plan: SweepPlan,
  limits: { readonly driftPctPerMin: number; readonly atMostS: number },
  onPoint: (state: WarmUp) => void,
  signal: AbortSignal,
): Promise<WarmUp> {
  const { digitizer, changer, clock } = deps
  await changer.change(plan.levels.at(-1) ?? 255, signal)
  await clock.sleep(plan.ladderSettleS, signal)
  const startedAt = clock.now()
  const points: WhitePoint[] = []
  for (;;) {
    const { trace } = await recordNow(digitizer, plan, plan.ladderS, signal)
    points.push({ atS: clock.now() - startedAt, volts: plateauOf(trace, plan.refreshHz).meanV })
    const driftPctPerMin = driftOf(points)
    const settled = driftPctPerMin !== null && Math.abs(driftPctPerMin) < limits.driftPctPerMin
    const state = { points: [...points], driftPctPerMin, settled }
    onPoint(state)
    const last = points.at(-1)?.atS ?? 0
    if (settled || last >= limits.atMostS) return state
    await clock.sleep(EVERY_S, signal)
  }
}

/** Percent of the mean a minute over the last two minutes; null before they are full. */
export function driftOf(points: readonly WhitePoint[]): number | null {
  const last = points.at(-1)
  const first = points[0]
  if (last === undefined || first === undefined || last.atS - first.atS < OVER_S) return null
  const recent = points.filter(({ atS }) => atS >= last.atS - OVER_S)
  const meanAt = recent.reduce((sum, { atS }) => sum + atS, 0) / recent.length
  const mean = recent.reduce((sum, { volts }) => sum + volts, 0) / recent.length
  const across = recent.reduce((sum, { atS, volts }) => sum + (atS - meanAt) * (volts - mean), 0)
  const along = recent.reduce((sum, { atS }) => sum + (atS - meanAt) ** 2, 0)
  return mean === 0 || along === 0 ? null : (100 * 60 * across) / along / mean
}

/** What is told of a warm-up, and kept: its whole curve. */
export function warmUpRecord(
  end: WarmUp,
  limits: { readonly atMostS: number },
): { level: 'info' | 'warn'; words: string; reading: Omit<NewReading, 'campaignId' | 'at'> } {
  const words = end.settled
    ? `White has settled: ${(end.driftPctPerMin ?? 0).toFixed(3)} % a minute.`
    : `White still drifts by ${end.driftPctPerMin?.toFixed(3) ?? '?'} % a minute after ${Math.round(limits.atMostS / 60)} minutes; the run goes on.`
  return {
    level: end.settled ? 'info' : 'warn',
    words,
    reading: {
      sweepId: null,
      kind: 'warm-up',
      quantity: 'white, one value every 5 s',
      unit: 'V',
      value: null,
      series: end.points.map(({ volts }) => volts).slice(-4096),
      u: null,
      source: 'photodiode',
      place: 'patch',
      note: words,
      setting: null,
      refreshHz: null,
    },
  }
}
