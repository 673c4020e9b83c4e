import { z } from 'zod'
import { FLASH_LIMIT_SPACING_S } from './flash.ts'

/** Grey-level code of an 8-bit stimulus, 0–255. */
export const levelSchema = z.int().min(0).max(255)

/** An ordered pair of different levels. */
export interface Transition {
  readonly from: number
  readonly to: number
}

/** What a sweep does; stored with it and never changed afterwards. */
export const sweepPlanSchema = z
  .strictObject({
    /** The overdrive setting's label, as the display's own menu calls it. */
    setting: z.string().trim().min(1).max(60),
    /** Refresh rate the display is declared to run at, Hz. */
    refreshHz: z.number().min(10).max(1000),
    /** Levels whose ordered pairs are measured, ascending, at least two. */
    levels: z.array(levelSchema).min(2, 'A sweep needs at least two different levels.').max(33),
    /** Captures of each transition. */
    repeats: z.int().min(1).max(100),
    /** Attempts per capture before the transition is given up and counted as missing. */
    maxAttempts: z.int().min(1).max(20).default(3),
    /** Seed of the walk orders. */
    seed: z.int().min(0).max(0xffffffff).default(1),
    /** Recorded before the expected light edge, s. */
    preS: z.number().min(0.001).max(5),
    /** Recorded after the expected light edge, s. */
    postS: z.number().min(0.002).max(20),
    /** Least time between two level changes, s; 1/3 s keeps to three changes a second. */
    spacingS: z.number().min(0.01).max(60),
    /** Time a ladder level is held before it is recorded, s. */
    ladderSettleS: z.number().min(0.01).max(60).default(0.5),
    /** Recorded at each ladder level, s. */
    ladderS: z.number().min(0.005).max(10).default(0.1),
    sampleRateHz: z.number().min(500).max(10_000_000),
    /** Full scale of the digitizer input, V. */
    rangeV: z.number().min(0.001).max(100),
    /** `level`: the rig triggers on the light edge; `bus`: it records at once and the edge is found in the record. */
    trigger: z.enum(['level', 'bus']).default('level'),
    /** Sample transfer format; INT16 halves the bytes on the link. */
    transfer: z.enum(['int16', 'real32']).default('int16'),
    patch: z
      .strictObject({
        /** Edge of the centred square patch, percent of the screen's height. */
        sizePct: z.number().min(1).max(100),
        /** Grey-level code around the patch. */
        surround: levelSchema,
      })
      .default({ sizePct: 10, surround: 0 }),
    /** True only when the operator knowingly lifted the limit of three level changes a second. */
    flashLimitLifted: z.boolean().default(false),
  })
  .superRefine((plan, context) => {
    if (new Set(plan.levels).size !== plan.levels.length)
      context.addIssue({ code: 'custom', path: ['levels'], message: 'A level is listed twice.' })
    if (plan.levels.some((level, i) => i > 0 && level <= (plan.levels[i - 1] ?? 0)))
      context.addIssue({ code: 'custom', path: ['levels'], message: 'Levels go from dark to bright.' })
    if (plan.postS > plan.spacingS)
      context.addIssue({
        code: 'custom',
        path: ['spacingS'],
        message: 'The spacing is shorter than the time recorded after the edge.',
      })
    if (!plan.flashLimitLifted && plan.spacingS < FLASH_LIMIT_SPACING_S)
      context.addIssue({
        code: 'custom',
        path: ['spacingS'],
        message:
          'Less than 1/3 s between level changes exceeds three flashes a second; lift the flash limit knowingly or use more.',
      })
    if ((plan.preS + plan.postS) * plan.sampleRateHz > 4_000_000)
      context.addIssue({
        code: 'custom',
        path: ['sampleRateHz'],
        message: 'A capture may hold at most 4,000,000 samples.',
      })
    if ((plan.preS + plan.postS) * plan.sampleRateHz < 100)
      context.addIssue({ code: 'custom', path: ['sampleRateHz'], message: 'A capture needs at least 100 samples.' })
  })

export type SweepPlan = z.infer<typeof sweepPlanSchema>
export type SweepPlanInput = z.input<typeof sweepPlanSchema>

/**
 * Named level lists. Those of equal L* are for a display that follows the sRGB transfer function with white at 255:
 * before a ladder is measured nothing better is known, and what the levels come to on the display is in its ladder.
 */
export const LEVEL_PRESETS = {
  'two ends': [0, 255],
  'five equal L*': [0, 59, 119, 185, 255],
  'seven equal L*': [0, 41, 78, 119, 162, 208, 255],
  'six equal codes': [0, 51, 102, 153, 204, 255],
  'nine equal codes': [0, 32, 64, 96, 128, 160, 192, 224, 255],
} as const satisfies Record<string, readonly number[]>

export const DEFAULT_PLAN: SweepPlanInput = {
  setting: 'Off',
  refreshHz: 60,
  levels: [...LEVEL_PRESETS['seven equal L*']],
  repeats: 5,
  preS: 0.05,
  postS: 0.25,
  spacingS: 0.35,
  sampleRateHz: 50_000,
  rangeV: 5,
}

/** All ordered pairs of different levels, in reading order: N(N−1) of them. */
export function transitionsOf(levels: readonly number[]): Transition[] {
  return levels.flatMap((from) => levels.filter((to) => to !== from).map((to) => ({ from, to })))
}
