import { z } from 'zod'
import { DEFAULT_PLAN, sweepPlanSchema, type SweepPlan } from './plan.ts'

/**
 * A setting's label as it may be told to a person or handed to a program: letters, digits, spaces and . _ + -, never
 * starting with a hyphen, so that no label can be read as an option.
 */
export const settingSchema = z
  .string()
  .trim()
  .regex(
    /^(?!-)[\p{L}\p{N} ._+-]{1,60}$/u,
    'A setting is 1 to 60 letters, digits, spaces and . _ + -, not starting with -.',
  )

/** One setting at one refresh rate. */
export interface Visit {
  readonly setting: string
  readonly refreshHz: number
}

const visitSchema = z.strictObject({ setting: settingSchema, refreshHz: z.number() })

/** A grid of sweeps on one display, worked through as one run. */
export const campaignPlanSchema = z
  .strictObject({
    settings: z.array(settingSchema).min(1, 'Name at least one setting.').max(20),
    refreshHz: z.array(z.number().min(10).max(1000)).min(1, 'Name at least one refresh rate.').max(20),
    /** Cells of the grid that are not measured. */
    leaveOut: z.array(visitSchema).default([]),
    /** Everything else of each sweep; its own setting and refresh rate are not used. */
    sweep: sweepPlanSchema,
    warmUp: z
      .strictObject({
        /** White counts as settled when it drifts less than this. A choice, shown with the curve. */
        driftPctPerMin: z.number().min(0.01).max(10),
        /** Given up after this long, s. */
        atMostS: z.number().min(0).max(7200),
      })
      .nullable()
      .default(null),
    /** What the check after a change of setting calls another display, in percent of a duration. */
    canaryMarginPct: z.number().min(1).max(50).default(5),
  })
  .superRefine((plan, context) => {
    if (new Set(plan.settings.map((setting) => setting.toLowerCase())).size !== plan.settings.length)
      context.addIssue({ code: 'custom', path: ['settings'], message: 'A setting is named twice.' })
    if (new Set(plan.refreshHz).size !== plan.refreshHz.length)
      context.addIssue({ code: 'custom', path: ['refreshHz'], message: 'A refresh rate is named twice.' })
    if (visitsOf(plan).length === 0)
      context.addIssue({ code: 'custom', path: ['leaveOut'], message: 'Every combination is left out.' })
  })
export type CampaignPlan = z.infer<typeof campaignPlanSchema>

const isRecord = (value: unknown): value is Record<string, unknown> =>
  typeof value === 'object' && value !== null && !Array.isArray(value)

/** In a file a combination that is not planned is a slip of the pen: it would be measured after all. */
const filedPlanSchema = campaignPlanSchema.superRefine(({ settings, refreshHz, leaveOut }, context) => {
  for (const [i, out] of leaveOut.entries())
    if (!settings.includes(out.setting) || !refreshHz.includes(out.refreshHz))
      context.addIssue({
        code: 'custom',
        path: ['leaveOut', i],
        message: `${out.setting} at ${out.refreshHz} Hz is not among the settings and refresh rates of the plan.`,
      })
})

/** A plan as a file holds it: what a sweep leaves out is as usual. */
export function planOfFile(read: unknown): z.ZodSafeParseResult<CampaignPlan> {
  const { sweep = {} } = isRecord(read) ? read : {}
  // What is no record stays as it is and is refused by name.
  const whole = isRecord(sweep) ? { ...DEFAULT_PLAN, ...sweep } : sweep
  return filedPlanSchema.safeParse(isRecord(read) ? { ...read, sweep: whole } : read)
}

/** A plan under a name, to be used for other displays. */
export const planTemplateSchema = z.strictObject({
  name: z.string().trim().min(1, 'A plan needs a name.').max(60),
  plan: campaignPlanSchema,
})
export type PlanTemplate = z.infer<typeof planTemplateSchema>

/**
 * Order of a run. A setting is changed in the display's own menu, by hand, and so as seldom as can be: once for each.
 * Within a setting the refresh rates go up, in the next one down, so that a change of setting is never also a change of
 * refresh rate and what was measured before it can be compared with what comes after.
 */
export function visitsOf(plan: Pick<CampaignPlan, 'settings' | 'refreshHz' | 'leaveOut'>): Visit[] {
  const ascending = [...plan.refreshHz].sort((a, b) => a - b)
  return plan.settings.flatMap((setting, index) => {
    const rates = index % 2 === 0 ? ascending : [...ascending].sort((a, b) => b - a)
    return rates
      .map((refreshHz) => ({ setting, refreshHz }))
      .filter((visit) => !plan.leaveOut.some((out) => out.setting === setting && out.refreshHz === visit.refreshHz))
  })
}

/** The plan of one sweep of the run; each has its own seed, so that walks do not line up. */
export const sweepPlanOf = (plan: CampaignPlan, visit: Visit, index: number): SweepPlan => ({
  ...plan.sweep,
  ...visit,
  seed: (plan.sweep.seed + index) >>> 0,
})
