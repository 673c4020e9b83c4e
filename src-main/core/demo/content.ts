/** What the demo library holds. Every display is invented. */
import type { CampaignPlan } from '#shared/domain/campaign-plan.ts'
import type { Judgement } from '#shared/findings/campaign/figures.ts'
import { LEVEL_PRESETS, sweepPlanSchema, type SweepPlan } from '#shared/domain/plan.ts'
import type { DemoRecordState } from './readings.ts'
import type { DemoSource, Mishap } from './demo-bench.ts'

export interface DemoDisplay {
  readonly name: string
  readonly display: string
  readonly note: string
  readonly source: DemoSource
  readonly plan: CampaignPlan
  /** What it is judged by; the usual limits when left out. */
  readonly judgement?: Judgement
  /** How far its record beyond the transitions is; none when left out. */
  readonly record?: DemoRecordState
}

const INVENTED = 'Invented data from the simulated rig; no such display exists.'

function planOf(repeats: number, postS: number, change: Partial<SweepPlan> = {}): SweepPlan {
  return sweepPlanSchema.parse({
    setting: 'Off',
    refreshHz: 60,
    levels: [...LEVEL_PRESETS['seven equal L*']],
    repeats,
    preS: 0.03,
    postS,
    spacingS: 0.35,
    sampleRateHz: 20_000,
    rangeV: 5,
    ...change,
  })
}

function gridOf(settings: readonly string[], refreshHz: readonly number[], sweep: SweepPlan): CampaignPlan {
  return {
    settings: [...settings],
    refreshHz: [...refreshHz],
    leaveOut: [],
    sweep,
    warmUp: null,
    canaryMarginPct: 5,
  }
}

export interface DemoLibrary {
  readonly displays: readonly DemoDisplay[]
  /** What goes wrong with a capture: display, sweep and place in its walk, all counted from 0; null for nothing. */
  mishapAt(display: number, sweep: number, position: number): Mishap | null
}

/** Both compared displays have a setting that meets it at all their rates. */
const BY_OVERSHOOT: Judgement = { limits: { overshoot_mean: { bound: 'at-most', value: 5 } }, weighting: 'equal' }

/** Oldest first; the application opens the newest. */
const DISPLAYS: readonly DemoDisplay[] = [
  {
    name: 'Strobed light (invented)',
    display: 'Invented display C',
    note: `${INVENTED} A strobed backlight, for the Light screen.`,
    source: { panel: 'swift', backlight: 'strobe', seed: 31 },
    plan: gridOf(
      ['Gentle'],
      [120],
      planOf(2, 0.3, { levels: [0, 119, 255], trigger: 'bus', preS: 0.1, sampleRateHz: 25_000 }),
    ),
  },
  {
    name: 'Slow in the dark (invented)',
    display: 'Invented display B',
    judgement: BY_OVERSHOOT,
    record: 'begun',
    note: INVENTED,
    source: { panel: 'dusk', backlight: 'steady', seed: 21 },
    plan: gridOf(['Off', 'Strong'], [60, 120], planOf(4, 0.25)),
  },
  {
    name: 'Three settings (invented)',
    display: 'Invented display A',
    judgement: BY_OVERSHOOT,
    record: 'complete',
    note: INVENTED,
    source: { panel: 'swift', backlight: 'steady', seed: 11 },
    plan: gridOf(['Off', 'Gentle', 'Strong'], [60, 144, 240], planOf(5, 0.1)),
  },
]

/** Captures that went wrong: display, sweep and place in its walk, all counted from 0. */
const MISHAPS: readonly (readonly [display: number, sweep: number, position: number, mishap: Mishap])[] = [
  [1, 0, 17, 'slow'],
  [1, 1, 60, 'hum'],
  [1, 3, 88, 'double-step'],
  [2, 0, 30, 'hum'],
  [2, 0, 101, 'slow'],
  [2, 2, 55, 'double-step'],
  [2, 4, 20, 'clipped'],
  [2, 4, 90, 'slow'],
  [2, 5, 64, 'held'],
  [2, 8, 12, 'clipped'],
  [2, 8, 75, 'hum'],
]

export const DEMO: DemoLibrary = {
  displays: DISPLAYS,
  mishapAt: (display, sweep, position) =>
    MISHAPS.find(([d, s, p]) => d === display && s === sweep && p === position)?.[3] ?? null,
}
