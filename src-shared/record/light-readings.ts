/** What the Light screen measures of periodic light, as readings of the display's record. */
import { newReadingSchema, type NewReading, type Reading } from '#shared/domain/reading.ts'
import { u95Of } from '#shared/findings/campaign/estimate.ts'
import { PERIODIC_IDS, PERIODIC_MEASURES, type PeriodicId, type PeriodicResult } from '#shared/measure/periodic.ts'
import { listedFigure, ownEstimate, type RecordFigure } from './figures.ts'

type LightId = PeriodicId | 'pulse_width_ms'
const LIGHT_IDS: readonly LightId[] = [...PERIODIC_IDS, 'pulse_width_ms']
const kindOf = (id: LightId): string => `light-${id.replaceAll('_', '-')}`
const ID_OF = new Map(LIGHT_IDS.map((id) => [kindOf(id), id]))

/** Which measure of periodic light a reading holds; undefined for any other reading. */
export const lightIdOf = ({ kind }: Pick<Reading, 'kind'>): string | undefined => ID_OF.get(kind)

const infoOf = (id: LightId): { readonly label: string; readonly unit: string } =>
  id === 'pulse_width_ms' ? { label: 'Pulse width', unit: 'ms' } : PERIODIC_MEASURES[id]

export interface LightOrigin {
  readonly campaignId: number
  readonly sweepId: number | null
  /** Where it was measured and of what picture, such as “centre, level 255 at 120 Hz”. */
  readonly place: string
  /** The capture or file it was read from. */
  readonly source: string
  readonly note: string
  /** ISO 8601; all readings of one light have the same. */
  readonly at: string
}

/** One reading for each number that the light has, with its standard uncertainty from noise. */
export function readingsOfLight(
  { values, uncertainties }: Pick<PeriodicResult, 'values' | 'uncertainties'>,
  origin: LightOrigin,
): NewReading[] {
  const made = LIGHT_IDS.flatMap((id) => {
    const found = id === 'pulse_width_ms' ? pulseWidth(values, uncertainties) : plain(values[id], uncertainties[id])
    return found === null ? [] : [{ id, ...found }]
  })
  return made.map(({ id, value, u }) => {
    const { label, unit } = infoOf(id)
    return newReadingSchema.parse({
      ...origin,
      place: origin.place.slice(0, 200),
      source: origin.source.slice(0, 200),
      note: origin.note.slice(0, 2000),
      kind: kindOf(id),
      quantity: label,
      unit,
      value,
      u,
    })
  })
}

interface Found {
  readonly value: number
  readonly u: number | null
}

const plain = (value: number | null, u: number | undefined): Found | null =>
  value === null ? null : { value, u: u ?? null }

/** Duty over frequency: the time above half way between the extremes of the mean cycle. */
function pulseWidth(
  { duty_pct: duty, fundamental_hz: hz }: PeriodicResult['values'],
  { duty_pct: uDuty, fundamental_hz: uHz }: PeriodicResult['uncertainties'],
): Found | null {
  if (duty === null || hz === null || !(duty > 0)) return null
  const value = (10 * duty) / hz
  return { value, u: uDuty === undefined || uHz === undefined ? null : value * Math.hypot(uDuty / duty, uHz / hz) }
}

/** Readings of this light that are on record already. */
export const storedBefore = (readings: readonly Reading[], { place, source }: Pick<LightOrigin, 'place' | 'source'>) =>
  readings.filter((one) => !one.hidden && ID_OF.has(one.kind) && one.place === place && one.source === source)

const SHOWN: readonly LightId[] = [
  'fundamental_hz',
  'percent_flicker_pct',
  'flicker_index',
  'rms_pct',
  'duty_pct',
  'pulse_width_ms',
  'svm',
  'pst_lm',
  'visibility_jnd',
]

export interface LightFigures {
  readonly figures: readonly RecordFigure[]
  readonly readings: readonly Reading[]
}

/** The newest of each place and source, in the order they were taken. */
export function lightFigures(readings: readonly Reading[]): LightFigures {
  const groups = new Map<string, Reading[]>()
  for (const reading of readings) {
    if (reading.hidden || reading.value === null || !ID_OF.has(reading.kind)) continue
    const key = `${reading.place}\n${reading.source}`
    const before = groups.get(key)
    // Readings come in the order they were taken: a later press takes the place of an earlier one.
    if (before === undefined || before[0]?.at !== reading.at) groups.set(key, [reading])
    else before.push(reading)
  }
  const shown = [...groups.values()].flat()
  return {
    readings: shown,
    figures: [...groups.values()].flatMap((group) =>
      SHOWN.flatMap((id) => {
        const reading = group.findLast(({ kind }) => kind === kindOf(id))
        return reading === undefined ? [] : [figureOf(id, reading)]
      }),
    ),
  }
}

function figureOf(id: LightId, { value, unit, u, quantity, place, source }: Reading): RecordFigure {
  const label = `Light, ${place} (${source}): ${quantity}`
  const estimate = ownEstimate(value ?? Number.NaN, u)
  if (id === 'percent_flicker_pct')
    return listedFigure('percent_flicker', estimate, { light: place }, { label, note: `Read on Light: ${source}.` })
  return { label, value: estimate.value, unit, u95: u95Of(estimate), note: `Read on Light: ${source}.` }
}
