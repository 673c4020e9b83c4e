/** The plan form's fields as typed text, in the units printed beside them, and their way to a sweep plan and back. */
import {
  DEFAULT_PLAN,
  LEVEL_PRESETS,
  sweepPlanSchema,
  type SweepPlan,
  type SweepPlanInput,
} from '#shared/domain/plan.ts'
import { listed } from '#shared/domain/quantity-text.ts'

import { numberProblem, parseNumber } from '../../ui/parse-number.ts'

export type LevelPreset = keyof typeof LEVEL_PRESETS

export interface PlanDraft {
  readonly setting: string
  readonly refreshHz: string
  readonly levels: string
  readonly repeats: string
  readonly maxAttempts: string
  readonly seed: string
  readonly preMs: string
  readonly postMs: string
  readonly spacingMs: string
  readonly ladderSettleMs: string
  readonly ladderMs: string
  readonly sampleRateKhz: string
  readonly rangeV: string
  readonly trigger: 'level' | 'bus'
  readonly transfer: 'int16' | 'real32'
  readonly patchSizePct: string
  readonly surround: string
  readonly flashLimitLifted: boolean
}

export type PlanField = keyof PlanDraft

export interface PlanReading {
  /** Present only when every field can be used. */
  readonly plan: SweepPlan | null
  /** One sentence for each field that cannot. */
  readonly errors: Readonly<Partial<Record<PlanField, string>>>
}

/** Form field behind each path of the plan, and the factor from the field's unit to the plan's. */
const NUMBERS = {
  refreshHz: { path: 'refreshHz', factor: 1 },
  repeats: { path: 'repeats', factor: 1 },
  maxAttempts: { path: 'maxAttempts', factor: 1 },
  seed: { path: 'seed', factor: 1 },
  preMs: { path: 'preS', factor: 1e-3 },
  postMs: { path: 'postS', factor: 1e-3 },
  spacingMs: { path: 'spacingS', factor: 1e-3 },
  ladderSettleMs: { path: 'ladderSettleS', factor: 1e-3 },
  ladderMs: { path: 'ladderS', factor: 1e-3 },
  sampleRateKhz: { path: 'sampleRateHz', factor: 1e3 },
  rangeV: { path: 'rangeV', factor: 1 },
  patchSizePct: { path: 'patch.sizePct', factor: 1 },
  surround: { path: 'patch.surround', factor: 1 },
} as const satisfies Partial<Record<PlanField, { path: string; factor: number }>>
type NumberField = keyof typeof NUMBERS

/** Levels separated by commas, semicolons or spaces, sorted from dark to bright; the error says which part is wrong. */
export function parseLevels(text: string): { levels: number[]; error: string } {
  const parts = text.split(/[\s,;]+/).filter((part) => part !== '')
  if (parts.length === 0) return { levels: [], error: 'Type at least two grey-level codes, for example 0, 128, 255.' }
  const wrong = parts.find((part) => !/^\d{1,3}$/.test(part) || Number(part) > 255)
  if (wrong !== undefined) return { levels: [], error: `“${wrong}” is not a grey-level code from 0 to 255.` }
  const levels = parts.map(Number).sort((a, b) => a - b)
  const twice = levels.find((level, i) => level === levels[i - 1])
  if (twice !== undefined) return { levels: [], error: `Level ${twice} is listed twice.` }
  return { levels, error: '' }
}

/** Name of the preset with exactly these levels, if any. */
export function presetOf(text: string): LevelPreset | null {
  const { levels } = parseLevels(text)
  const key = levels.join(' ')
  const names = Object.keys(LEVEL_PRESETS) as LevelPreset[]
  return names.find((name) => LEVEL_PRESETS[name].join(' ') === key) ?? null
}

/** Decimal text without the noise of binary fractions. */
function text(value: number): string {
  return String(Number(value.toPrecision(12)))
}

/** The draft that reads back as the plan. */
export function draftOf(input: SweepPlanInput): PlanDraft {
  const plan = sweepPlanSchema.parse(input)
  return {
    setting: plan.setting,
    refreshHz: text(plan.refreshHz),
    levels: plan.levels.join(', '),
    repeats: text(plan.repeats),
    maxAttempts: text(plan.maxAttempts),
    seed: text(plan.seed),
    preMs: text(plan.preS * 1e3),
    postMs: text(plan.postS * 1e3),
    spacingMs: text(plan.spacingS * 1e3),
    ladderSettleMs: text(plan.ladderSettleS * 1e3),
    ladderMs: text(plan.ladderS * 1e3),
    sampleRateKhz: text(plan.sampleRateHz / 1e3),
    rangeV: text(plan.rangeV),
    trigger: plan.trigger,
    transfer: plan.transfer,
    patchSizePct: text(plan.patch.sizePct),
    surround: text(plan.patch.surround),
    flashLimitLifted: plan.flashLimitLifted,
  }
}

export const DEFAULT_DRAFT: PlanDraft = draftOf(DEFAULT_PLAN)

const FIELD_OF_PATH: Readonly<Record<string, PlanField>> = {
  setting: 'setting',
  levels: 'levels',
  ...Object.fromEntries(Object.entries(NUMBERS).map(([field, { path }]) => [path, field as NumberField])),
}

/**
 * Reads every field; times are converted to s, rates to Hz. `settings` are the only ones the display has, where that is
 * known. The host checks the plan again before it starts.
 */
export function readDraft(draft: PlanDraft, settings: readonly string[] | null = null): PlanReading {
  const errors: Partial<Record<PlanField, string>> = {}
  const values: Record<string, number> = {}
  for (const field of Object.keys(NUMBERS) as NumberField[]) {
    const { path, factor } = NUMBERS[field]
    const value = parseNumber(draft[field])
    if (value === null) errors[field] = numberProblem(draft[field])
    // Fifteen digits drop what multiplying by 0.001 adds to a decimal fraction: 31.1 ms is 0.0311 s.
    else values[path] = Number((value * factor).toPrecision(15))
  }
  const { levels, error } = parseLevels(draft.levels)
  if (error !== '') errors.levels = error
  const setting = draft.setting.trim()
  if (!/[\p{L}\p{N}]/u.test(setting)) errors.setting = 'Name the setting as the display’s own menu calls it.'
  else if (settings !== null && !settings.includes(setting))
    errors.setting = `This display has no setting “${setting}”. It has ${listed(settings)}.`
  const candidate = {
    setting: draft.setting,
    levels,
    ...Object.fromEntries(Object.entries(values).filter(([path]) => !path.startsWith('patch.'))),
    patch: { sizePct: values['patch.sizePct'], surround: values['patch.surround'] },
    trigger: draft.trigger,
    transfer: draft.transfer,
    flashLimitLifted: draft.flashLimitLifted,
  }
  const parsed = sweepPlanSchema.safeParse(candidate)
  if (!parsed.success) {
    for (const issue of parsed.error.issues) {
      const field = FIELD_OF_PATH[issue.path.filter((part) => typeof part === 'string').join('.')]
      if (field !== undefined) errors[field] ??= sentence(issue, field)
    }
  }
  return { plan: parsed.success && Object.keys(errors).length === 0 ? parsed.data : null, errors }
}

interface Issue {
  readonly code?: string
  readonly message: string
  readonly minimum?: unknown
  readonly maximum?: unknown
}

/** Limits in the field's own unit; messages written for people pass through. */
function sentence(issue: Issue, field: PlanField): string {
  const factor = field in NUMBERS ? NUMBERS[field as NumberField].factor : 1
  const shown = (limit: unknown) => text(Number(limit) / factor)
  if (field === 'levels' && issue.code === 'too_big') return `At most ${Number(issue.maximum)} levels.`
  if (field === 'levels') return issue.message
  if (field === 'setting')
    return issue.code === 'too_big' ? `At most ${Number(issue.maximum)} characters.` : issue.message
  if (issue.code === 'too_small') return `At least ${shown(issue.minimum)}.`
  if (issue.code === 'too_big') return `At most ${shown(issue.maximum)}.`
  if (issue.code === 'invalid_type') return 'A whole number is needed.'
  return issue.message
}

/** A stored draft, completed with defaults; the flash limit is never lifted by a stored draft. */
export function restoreDraft(stored: unknown): PlanDraft {
  if (typeof stored !== 'object' || stored === null) return DEFAULT_DRAFT
  const known = stored as Partial<Record<PlanField, unknown>>
  const merged: Record<string, string | boolean> = { ...DEFAULT_DRAFT }
  for (const field of Object.keys(DEFAULT_DRAFT) as PlanField[]) {
    const value = known[field]
    if (typeof value === 'string' && value.length <= 400) merged[field] = value
  }
  if (merged['trigger'] !== 'level' && merged['trigger'] !== 'bus') merged['trigger'] = DEFAULT_DRAFT.trigger
  if (merged['transfer'] !== 'int16' && merged['transfer'] !== 'real32') merged['transfer'] = DEFAULT_DRAFT.transfer
  return { ...(merged as unknown as PlanDraft), flashLimitLifted: false }
}
