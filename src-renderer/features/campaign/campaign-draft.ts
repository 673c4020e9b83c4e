import { campaignPlanSchema, type CampaignPlan, type Visit } from '#shared/domain/campaign-plan.ts'
import { DEFAULT_PLAN, LEVEL_PRESETS, sweepPlanSchema } from '#shared/domain/plan.ts'

export type LevelPreset = keyof typeof LEVEL_PRESETS

/** What a person is filling in; texts stay as typed until they are read. */
export interface CampaignDraft {
  /** One a line or separated by commas. */
  readonly settings: string
  readonly refreshHz: string
  readonly leaveOut: readonly Visit[]
  readonly preset: LevelPreset
  readonly repeats: string
  /** Percent a minute; empty for no warm-up. */
  readonly warmUpDrift: string
}

export const EMPTY_DRAFT: CampaignDraft = {
  settings: 'Off, Gentle, Strong',
  refreshHz: '60, 120, 144',
  leaveOut: [],
  preset: 'seven equal L*',
  repeats: '5',
  warmUpDrift: '',
}

const WARM_UP_AT_MOST_S = 1800

export const listOf = (text: string): string[] =>
  text
    .split(/[,\n;]/)
    .map((part) => part.trim())
    .filter((part) => part !== '')

export interface ReadDraft {
  readonly plan: CampaignPlan | null
  /** By field; only what is wrong. */
  readonly problems: Readonly<
    Partial<Record<'settings' | 'refreshHz' | 'repeats' | 'warmUpDrift' | 'leaveOut', string>>
  >
}

/** A decimal comma would cut a list in two, so a number takes a point only. */
function numberOf(text: string): number {
  return /^\d+(\.\d+)?$/.test(text.trim()) ? Number(text) : NaN
}

export function readDraft(draft: CampaignDraft): ReadDraft {
  const settings = listOf(draft.settings)
  const rates = listOf(draft.refreshHz)
  const wrong = rates.find((rate) => Number.isNaN(numberOf(rate)))
  const repeats = numberOf(draft.repeats)
  const drift = draft.warmUpDrift.trim() === '' ? null : numberOf(draft.warmUpDrift)
  const problems: Partial<Record<keyof ReadDraft['problems'], string>> = {}
  if (settings.length === 0) problems.settings = 'Name at least one setting.'
  else if (new Set(settings.map((setting) => setting.toLowerCase())).size < settings.length)
    problems.settings = 'A setting is named twice.'
  if (rates.length === 0) problems.refreshHz = 'Name at least one refresh rate.'
  if (wrong !== undefined) problems.refreshHz = `“${wrong}” is not a refresh rate in Hz.`
  if (!Number.isInteger(repeats) || repeats < 1) problems.repeats = 'A whole number, 1 or more.'
  if (drift !== null && Number.isNaN(drift)) problems.warmUpDrift = 'A number, in percent a minute, or empty.'
  if (Object.keys(problems).length > 0) return { plan: null, problems }
  const sweep = sweepPlanSchema.safeParse({ ...DEFAULT_PLAN, levels: [...LEVEL_PRESETS[draft.preset]], repeats })
  if (!sweep.success) return { plan: null, problems: { repeats: sweep.error.issues[0]?.message ?? 'Not possible.' } }
  const plan = campaignPlanSchema.safeParse({
    settings,
    refreshHz: rates.map(numberOf),
    leaveOut: draft.leaveOut,
    sweep: sweep.data,
    warmUp: drift === null ? null : { driftPctPerMin: drift, atMostS: WARM_UP_AT_MOST_S },
  })
  if (plan.success) return { plan: plan.data, problems: {} }
  for (const { path, message } of plan.error.issues) {
    const field = path[0]
    if (field === 'settings' || field === 'refreshHz' || field === 'leaveOut') problems[field] ??= message
    else if (field === 'warmUp') problems.warmUpDrift ??= message
    else problems.settings ??= message
  }
  return { plan: null, problems }
}

/** A plan as the form shows it; null when its levels are none of those the form offers. */
export function draftOf({ settings, refreshHz, leaveOut, sweep, warmUp }: CampaignPlan): CampaignDraft | null {
  const presets = Object.keys(LEVEL_PRESETS) as LevelPreset[]
  const preset = presets.find((id) => LEVEL_PRESETS[id].join(' ') === sweep.levels.join(' '))
  if (preset === undefined) return null
  return {
    settings: settings.join(', '),
    refreshHz: refreshHz.join(', '),
    leaveOut,
    preset,
    repeats: String(sweep.repeats),
    warmUpDrift: warmUp === null ? '' : String(warmUp.driftPctPerMin),
  }
}
