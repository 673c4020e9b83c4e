/** How the readings of a guided sequence are stored and found again: nothing but readings is needed to go on with one. */
import { z } from 'zod'
import {
  guidedPlanSchema,
  SEQUENCES,
  type GuidedPlan,
  type GuidedValue,
  type SequenceId,
} from '#shared/domain/guided.ts'
import { newReadingSchema, type NewReading, type Reading } from '#shared/domain/reading.ts'
import { seriesOf, recordKind, type RecordKindId } from '#shared/domain/record-kinds.ts'
import { STROBE_KIND } from '#shared/record/strobe-points.ts'
import { patchesOf, type GuidedStep } from './steps.ts'

/** The beginning of a sequence, with its plan. Hidden once it is finished or given up. */
export const BEGUN_KIND = 'guided-sequence'

const POINT_KINDS: Readonly<Record<SequenceId, string>> = {
  uniformity: 'uniformity-point',
  strobing: STROBE_KIND,
  flicker: 'flicker-point',
  angle: 'viewing-angle-point',
  ladder: 'luminance-point',
  'white-over-time': 'white-point',
  colour: 'colour-point',
}
/** What the whole is stored as; strobing is read from its points, which carry an uncertainty each. */
const WHOLE_KINDS: Readonly<Record<SequenceId, RecordKindId | null>> = {
  uniformity: 'uniformity',
  strobing: null,
  flicker: 'flicker-by-brightness',
  angle: 'viewing-angle',
  ladder: 'luminance-ladder',
  'white-over-time': 'white-over-time',
  colour: 'colour-patches',
}
/** Only shown: the instrument keeps its values itself. */
export const SHOWN: GuidedValue = { quantity: 'shown', unit: '1', value: 1, u: null }

const MARK = /Sequence (\d+), step (\S+)\.$/
const planText = z.string().transform((text, context) => {
  try {
    return JSON.parse(text) as unknown
  } catch {
    context.addIssue({ code: 'custom', message: 'Not JSON.' })
    return z.NEVER
  }
})
const storedPlan = planText.pipe(guidedPlanSchema)

/** The plan in the note, the patches as the series, since a list of them may be longer than a note. */
export function begunReading(campaignId: number, plan: GuidedPlan, at: string): NewReading {
  const listed = plan.sequence === 'colour'
  return newReadingSchema.parse({
    campaignId,
    kind: BEGUN_KIND,
    quantity: SEQUENCES[plan.sequence],
    unit: '1',
    ...(listed ? { series: patchesOf(plan).flat() } : { value: 1 }),
    note: JSON.stringify({ ...plan, patches: [] }),
    at,
  })
}

/** Null for any other reading, and for one of a newer version that cannot be read. */
export function planOf({ kind, note, series }: Reading): GuidedPlan | null {
  if (kind !== BEGUN_KIND) return null
  const parsed = storedPlan.safeParse(note)
  if (!parsed.success) return null
  const codes = series ?? []
  const patches = Array.from({ length: codes.length / 3 }, (_, i) => codes.slice(3 * i, 3 * i + 3))
  const whole = guidedPlanSchema.safeParse({ ...parsed.data, patches })
  return whole.success ? whole.data : null
}

export function pointReadings(
  campaignId: number,
  sequenceId: number,
  plan: GuidedPlan,
  step: GuidedStep,
  taken: { readonly values: readonly GuidedValue[]; readonly source: string; readonly note: string },
  at: string,
): NewReading[] {
  const { setting, refreshHz } = plan
  return taken.values.map(({ quantity, unit, value, u }) =>
    newReadingSchema.parse({
      campaignId,
      kind: POINT_KINDS[plan.sequence],
      quantity,
      unit,
      value,
      u,
      source: taken.source.slice(0, 200),
      place: step.place,
      ...(plan.sequence === 'strobing' ? { setting, refreshHz } : {}),
      note: `${taken.note === '' ? '' : `${taken.note} `}Sequence ${sequenceId}, step ${step.id}.`,
      at,
    }),
  )
}

/** What was taken of each step of a sequence, the newest; readings come in the order they were taken. */
export function pointsOf(readings: readonly Reading[], sequenceId: number): Map<string, Reading[]> {
  const found = new Map<string, Reading[]>()
  for (const reading of readings) {
    const [, sequence, step] = MARK.exec(reading.note) ?? []
    if (reading.hidden || reading.value === null || Number(sequence) !== sequenceId || step === undefined) continue
    const own = (found.get(step) ?? []).filter(({ quantity }) => quantity !== reading.quantity)
    found.set(step, [...own, reading])
  }
  return found
}

/** The reading of the whole; null where a step lacks, or where there is none for this sequence. */
export function wholeReading(
  campaignId: number,
  sequenceId: number,
  plan: GuidedPlan,
  steps: readonly GuidedStep[],
  points: ReadonlyMap<string, readonly Reading[]>,
): NewReading | null {
  const kind = WHOLE_KINDS[plan.sequence]
  if (kind === null || plan.by === 'file' || (plan.sequence === 'colour' && plan.by === 'meter')) return null
  const { label, unit, columns } = recordKind(kind)
  const rows: number[][] = []
  const uncertainties: number[] = []
  for (const step of steps) {
    const own = points.get(step.id) ?? []
    const row = [...step.row, ...own.map(({ value }) => value as number)]
    if (row.length !== columns.length) {
      // Nine places or none; a ladder or an angle may lack some.
      if (plan.sequence === 'uniformity' || plan.sequence === 'colour') return null
      continue
    }
    rows.push(row)
    uncertainties.push(...own.filter((reading) => reading.unit === unit).flatMap(({ u }) => (u === null ? [] : [u])))
  }
  if (rows.length === 0) return null
  const all = [...points.values()].flat()
  return newReadingSchema.parse({
    campaignId,
    kind,
    quantity: plan.label === '' ? label : plan.label,
    unit,
    series: seriesOf(kind, rows),
    // One for all rows: the largest.
    u: uncertainties.length === 0 ? null : Math.max(...uncertainties),
    source: all.at(-1)?.source ?? '',
    place: placeOf(plan),
    note: `Made of the readings of sequence ${sequenceId}.`,
    at: all.at(-1)?.at,
  })
}

function placeOf({ sequence, places, axis }: GuidedPlan): string {
  if (sequence === 'uniformity') return `${places} places, white on the whole screen`
  return sequence === 'angle' ? `centre, ${axis}` : 'centre'
}
