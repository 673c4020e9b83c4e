/** Whole campaigns on the simulated rig with an operator who does something wrong, or a bench that does. */
import { random } from '#main/rig/simulated/optics/noise.ts'
import { campaignPlanSchema, visitsOf, type Visit } from '#shared/domain/campaign-plan.ts'
import { PANEL_IDS } from '#shared/domain/rig.ts'
import { openBenchCore, planOf } from '../support/bench-core.ts'

export const PLANTED = ['wrong setting', 'wrong refresh', 'moved sensor', 'drifting lamp', 'sound'] as const
export type Planted = (typeof PLANTED)[number]

export interface Outcome {
  readonly planted: Planted
  readonly seed: number
  /** What was done, in words. */
  readonly what: string
  /** Why the run stopped to ask; null when it went through. */
  readonly stopped: string | null
  /** Warnings of the log. */
  readonly flagged: readonly string[]
}

const SETTINGS = ['Off', 'Gentle', 'Strong']
const RATES = [60, 144]
/** What a person takes to change the display, s. */
const HANDS_S = 20
const OTHER_RATES = [50, 75, 100, 120, 165, 240]

const pick = <T>(from: readonly T[], next: () => number): T => from[Math.floor(next() * from.length)] as T

/** One campaign of six short sweeps; the same seed gives the same fault at the same place. */
export async function runPlanted(planted: Planted, seed: number): Promise<Outcome> {
  const next = random(seed, PLANTED.indexOf(planted) + 1)
  const plan = campaignPlanSchema.parse({
    settings: SETTINGS,
    refreshHz: RATES,
    sweep: planOf({ levels: [0, 128, 255], repeats: 1, seed }),
  })
  const visits = visitsOf(plan)
  const on = await openBenchCore({
    simulation: { seed, panel: PANEL_IDS[seed % PANEL_IDS.length] ?? 'swift' },
  })
  try {
    await on.core.system.acknowledgeWarning({ understood: true })
    const { id: campaignId } = await on.core.campaigns.create({ name: 'Invented', display: 'Invented', note: '' })
    const { id: runId } = await on.core.runs.create({ campaignId, plan })
    const at = 1 + Math.floor(next() * (visits.length - 1))
    let what = 'nothing'
    const setGain = (gain: (timeS: number) => number): void => on.simulated.current()?.setGain(gain)
    const startS = on.clock.now()
    if (planted === 'drifting lamp' || planted === 'sound') {
      const perMinute = planted === 'sound' ? 0.002 * (next() - 0.5) : (next() < 0.5 ? -1 : 1) * (0.03 + 0.03 * next())
      what = `light changes by ${(100 * perMinute).toFixed(2)} % a minute`
      // A lamp that gets brighter settles: otherwise it would leave the range.
      setGain((timeS) => Math.min(1.15, Math.exp((perMinute * (timeS - startS)) / 60)))
    }
    /** What the operator's hands do for the visit at this place. */
    const handsFor = (visit: Visit, index: number): { setting: string; refreshHz: number } => {
      if (index !== at) return visit
      if (planted === 'wrong setting') {
        const setting = pick(
          SETTINGS.filter((one) => one !== visit.setting),
          next,
        )
        what = `${setting} instead of ${visit.setting} at ${visit.refreshHz} Hz`
        return { ...visit, setting }
      }
      if (planted === 'wrong refresh') {
        const refreshHz = pick(OTHER_RATES, next)
        what = `${refreshHz} Hz instead of ${visit.refreshHz} Hz`
        return { ...visit, refreshHz }
      }
      if (planted === 'moved sensor') {
        const gain = next() < 0.5 ? 0.6 + 0.3 * next() : 1.06 + 0.12 * next()
        what = `light × ${gain.toFixed(2)} from sweep ${index + 1} on`
        setGain(() => gain)
      }
      return visit
    }
    await on.core.runs.start({ runId })
    await on.until(({ run }) => run !== null, 'the beginning')
    let stopped: string | null = null
    for (;;) {
      await on.until(({ run }) => run === null || run.question !== null, 'a question or the end', 120)
      const { run } = on.state()
      if (run === null) break
      if (run.question === null) continue
      if (run.question.kind !== 'change') {
        stopped = run.question.reason
        break
      }
      await on.clock.sleep(HANDS_S)
      await on.core.stimulus.simulatedMenu(handsFor(run.question.visit, run.index) as never)
      await on.core.runs.answer({ runId, answer: 'again' })
    }
    if (stopped === null) {
      const [stored] = await on.core.runs.list({ campaignId })
      if (stored?.state === 'paused') stopped = stored.reason
    }
    const flagged = on.events.flatMap((event) =>
      event.kind === 'log' && event.entry.level !== 'info' ? [event.entry.text] : [],
    )
    return { planted, seed, what, stopped, flagged }
  } finally {
    await on.close()
  }
}

/**
 * Warnings that say something of the display or the bench. A level near the end of the range is no doubt, nor is a
 * capture that was taken again.
 */
export const doubts = ({ flagged }: Outcome): string[] =>
  flagged.filter((text) => !text.startsWith('Level ') && !/^\d+ → \d+, repeat \d+, attempt \d+: /.test(text))

export const isCaught = (outcome: Outcome): boolean => outcome.stopped !== null || doubts(outcome).length > 0
