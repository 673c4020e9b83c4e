import { toErrorDetail } from '#shared/domain/errors.ts'
import { guidedPlanSchema, type GuidedPlan, type ReadBy, type Rgb, type SequenceId } from '#shared/domain/guided.ts'
import { type Meter, meterAt } from '#shared/domain/meter.ts'
import { parseNumber } from '../../../ui/parse-number.ts'

/** What a person is filling in; texts stay as typed until they are read. */
export interface GuideDraft {
  by: ReadBy
  meter: string
  query: string
  u: string
  source: string
  setting: string
  refresh: string
  places: '9' | '25'
  axis: 'horizontal' | 'vertical'
  list: string
  minutes: string
  label: string
  frameSignal: boolean
  settle: string
  repeats: string
}

/** The list a sequence goes through, where a person chooses it. */
export const LISTS: Partial<Record<SequenceId, { readonly label: string; readonly first: string }>> = {
  angle: { label: 'Angles in degrees; negative to the left or down', first: '0 15 30 45 60 -15 -30 -45 -60' },
  ladder: { label: 'Grey levels', first: '0 15 30 45 60 75 90 105 120 135 150 165 180 195 210 225 240 255' },
  flicker: { label: 'Brightness settings, separated by commas', first: '100 %, 50 %, 0 %' },
}

const numbersIn = (text: string): (number | null)[] =>
  text
    .trim()
    .split(/[\s,;]+/)
    .map(parseNumber)

/** What each field takes, as the plan's schema has it. */
const TAKES = {
  u: 'A number from 0 on, or empty.',
  setting: 'Name the setting.',
  refreshHz: 'A number from 10 to 1000.',
  angles: 'Up to 40 numbers from −85 to 85.',
  codes: '2 to 64 whole numbers from 0 to 255.',
  brightness: 'Up to 12 settings of 1 to 30 characters.',
  minutes: 'A number from 0.5 to 240.',
  settleS: 'A number from 0.35 to 60.',
  repeats: 'A whole number from 1 to 50.',
} as const
type GuideProblems = Readonly<Partial<Record<keyof typeof TAKES | 'meter', string>>>

interface ReadGuideDraft {
  readonly plan: GuidedPlan | null
  /** By field of the plan; only what is wrong. */
  readonly problems: GuideProblems
}

const isField = (name: unknown): name is keyof typeof TAKES => typeof name === 'string' && name in TAKES

export function readGuideDraft(sequence: SequenceId, draft: GuideDraft, patches: readonly Rgb[]): ReadGuideDraft {
  const problems: Partial<Record<keyof GuideProblems, string>> = {}
  let meter: Meter | null = null
  try {
    meter = draft.by === 'meter' ? meterAt(draft.meter) : null
  } catch (error) {
    problems.meter = toErrorDetail(error).remedy
  }
  const parsed = guidedPlanSchema.safeParse({
    sequence,
    by: draft.by,
    meter,
    query: draft.query,
    // What is no number is not the same as none stated.
    u: draft.u.trim() === '' ? null : (parseNumber(draft.u) ?? NaN),
    source: draft.source,
    setting: draft.setting,
    refreshHz: parseNumber(draft.refresh),
    places: Number(draft.places),
    axis: draft.axis,
    ...(sequence === 'angle' ? { angles: numbersIn(draft.list) } : {}),
    ...(sequence === 'ladder' ? { codes: numbersIn(draft.list) } : {}),
    ...(sequence === 'flicker' ? { brightness: draft.list.split(',') } : {}),
    minutes: parseNumber(draft.minutes),
    label: draft.label,
    frameSignal: draft.frameSignal,
    settleS: parseNumber(draft.settle),
    patches,
    repeats: parseNumber(draft.repeats),
  })
  if (!parsed.success)
    for (const { path } of parsed.error.issues) if (isField(path[0])) problems[path[0]] = TAKES[path[0]]
  return { plan: parsed.success && problems.meter === undefined ? parsed.data : null, problems }
}
