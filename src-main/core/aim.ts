/** Levels shown by hand, and the list before a sweep: the rig and the stimulus without a sweep. */
import type { SweepPlan } from '#shared/domain/plan.ts'
import type { Preflight } from '#shared/domain/preflight.ts'
import { AppError } from '#shared/domain/errors.ts'
import { preflight, readLevel, type LevelReading } from '#shared/measure/preflight.ts'
import { createLevelChanger, type LevelChanger } from './level-changer.ts'
import { checkPlan } from './plan-check.ts'
import type { Clock, Rig, StimulusRouter } from './ports.ts'
import type { DarkLevel } from '#shared/domain/rig.ts'
import { plateauOf, recordNow } from './record.ts'
import type { RecipeBook } from './recipes.ts'

export interface Aim {
  /** Shows a level as the plan would: its patch, its refresh, no faster than it may change. */
  show(plan: SweepPlan, level: number, signal?: AbortSignal): Promise<void>
  /** Records black, the level above it and white, and judges them. Rejects with `rig-…` or `stimulus-…`. */
  preflight(plan: SweepPlan, signal?: AbortSignal): Promise<Preflight>
  /** Reads the covered sensor and keeps the level until the rig is gone. Rejects with `conflict` where light reaches it. */
  dark(plan: SweepPlan, signal?: AbortSignal): Promise<DarkLevel>
  /** The dark level read last at this range, V; null when there is none. */
  darkV(rangeV: number): number | null
  /** The stimulus shows something else from now on. */
  forget(): void
}

export interface AimDeps {
  readonly rig: Rig
  readonly stimulus: StimulusRouter
  readonly clock: Clock
  readonly recipes: Pick<RecipeBook, 'current'>
}

/** Recorded of the covered sensor, s: whole periods of every mains frequency. */
const DARK_S = 0.5
/** A covered sensor gives less than this share of the range. */
const DARK_SHARE = 0.1
/** Recorded at each level, s: enough for a few periods of slow modulation. */
const READ_S = 0.2
const never = new AbortController().signal

export function createAim({ rig, stimulus, clock, recipes }: AimDeps): Aim {
  let changer: { readonly key: string; readonly levels: LevelChanger } | null = null
  /** First white of each plan's setting, refresh and patch since the rig was connected. */
  let dark: DarkLevel | null = null
  let whites = new Map<string, { readonly meanV: number; readonly at: number }>()

  const keyOf = ({ refreshHz, patch, setting }: SweepPlan): string => JSON.stringify([refreshHz, patch, setting])
  rig.onState(({ status }) => {
    if (status !== 'absent' && status !== 'lost') return
    changer = null
    whites = new Map()
    dark = null
  })

  async function prepared(plan: SweepPlan, signal: AbortSignal): Promise<LevelChanger> {
    const key = keyOf(plan)
    if (changer?.key === key) return changer.levels
    try {
      await stimulus.prepare(plan, signal)
    } catch (error) {
      // Another refresh than planned is one line of the list, and no reason not to aim.
      if (!(error instanceof AppError && error.code === 'stimulus-mismatch')) throw error
    }
    // By hand nothing changes faster than three times a second, whatever the plan was allowed.
    changer = { key, levels: createLevelChanger(stimulus, clock, { ...plan, flashLimitLifted: false }) }
    return changer.levels
  }

  async function read(
    levels: LevelChanger,
    plan: SweepPlan,
    level: number,
    signal: AbortSignal,
  ): Promise<LevelReading> {
    await levels.change(level, signal)
    await clock.sleep(plan.ladderSettleS, signal)
    const { trace } = await recordNow(rig.digitizer(), plan, Math.max(READ_S, plan.ladderS), signal)
    return readLevel(level, trace)
  }

  return {
    async show(plan, level, signal = never) {
      const levels = await prepared(plan, signal)
      await levels.change(level, signal)
    },
    async dark(plan, signal = never) {
      const { trace } = await recordNow(rig.digitizer(), plan, DARK_S, signal)
      const { meanV, sdV } = plateauOf(trace, plan.refreshHz)
      if (Math.abs(meanV) > DARK_SHARE * plan.rangeV)
        throw new AppError(
          'conflict',
          `The sensor gives ${meanV.toFixed(3)} V, so light reaches it.`,
          'Cover it so that no light gets in, then read the dark level again.',
        )
      dark = { meanV, sdV, rangeV: plan.rangeV, takenAt: clock.iso() }
      return dark
    },
    darkV: (rangeV) => (dark?.rangeV === rangeV ? dark.meanV : null),
    async preflight(plan, signal = never) {
      rig.digitizer()
      const levels = await prepared(plan, signal)
      const [first = 0, second = 255] = plan.levels
      const darkest = await read(levels, plan, first, signal)
      const next = await read(levels, plan, second, signal)
      const white = await read(levels, plan, plan.levels.at(-1) ?? 255, signal)
      const key = `${keyOf(plan)} ${white.level} ${plan.rangeV}`
      const before = whites.get(key)
      if (before === undefined) whites.set(key, { meanV: white.meanV, at: clock.now() })
      return {
        takenAt: clock.iso(),
        lines: preflight({
          plan,
          recipe: recipes.current(),
          darkest,
          next,
          white,
          measuredHz: stimulus.state().measuredHz,
          earlier: before === undefined ? null : { meanV: before.meanV, agoS: clock.now() - before.at },
          estimatedS: checkPlan(plan).estimatedS,
        }),
      }
    },
    forget() {
      changer = null
    },
  }
}
