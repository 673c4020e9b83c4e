/** Strobe crosstalk at top, centre and bottom of the screen, for each setting and refresh rate with strobing. */
import type { Reading } from '#shared/domain/reading.ts'
import { hertz, withUncertainty } from '#shared/domain/quantity-text.ts'
import { STROBE_PLACES, strobePoints, type StrobePlace } from '#shared/record/strobe-points.ts'
import { difference, type Estimate, u95Of, WELL_KNOWN } from './estimate.ts'
import { equalityP, holm } from './ranks.ts'

/** The brightening step and the darkening one. */
export const STROBE_STEPS = ['rise', 'fall'] as const
export type StrobeStep = (typeof STROBE_STEPS)[number]

/** Crosstalk at one place, signed, percent of the step; null where it was not measured. */
export interface CrosstalkAtPlace {
  readonly place: StrobePlace
  readonly rise: Estimate | null
  readonly fall: Estimate | null
}

export interface CrosstalkByPlace {
  readonly setting: string
  readonly refreshHz: number
  /** Places measured, from top to bottom. */
  readonly places: readonly CrosstalkAtPlace[]
  /** Where crosstalk is largest by size, in either direction; `shown` when that holds against every other place at 5 %. */
  readonly worst: { readonly place: StrobePlace; readonly step: StrobeStep; readonly shown: boolean } | null
  readonly readingIds: readonly number[]
}

const PLACES = (Object.keys(STROBE_PLACES) as StrobePlace[]).sort((a, b) => STROBE_PLACES[a] - STROBE_PLACES[b])
const QUANTITY = { rise: 'crosstalk', fall: 'crosstalk_fall' } as const

/** @param readings of one campaign in the order they were taken; of a place measured twice the newest counts. */
export function crosstalkByPlace(readings: readonly Reading[]): CrosstalkByPlace[] {
  const points = strobePoints(readings).filter(
    ({ quantity }) => quantity === 'crosstalk' || quantity === 'crosstalk_fall',
  )
  const keyOf = ({ setting, refreshHz }: (typeof points)[number]): string => JSON.stringify([setting, refreshHz])
  return [...new Set(points.map(keyOf))].flatMap((key) => {
    const own = points.filter((point) => keyOf(point) === key)
    const [first] = own
    if (first === undefined) return []
    const at = (place: StrobePlace, step: StrobeStep): Estimate | null => {
      const point = own.find((one) => one.place === place && one.quantity === QUANTITY[step])
      return point === undefined
        ? null
        : { value: point.value, u: point.u, dof: point.u === null ? 0 : WELL_KNOWN, shared: 0 }
    }
    const places = PLACES.map((place) => ({ place, rise: at(place, 'rise'), fall: at(place, 'fall') })).filter(
      ({ rise, fall }) => rise !== null || fall !== null,
    )
    const { setting, refreshHz } = first
    return [{ setting, refreshHz, places, worst: worstOf(places), readingIds: own.map(({ readingId }) => readingId) }]
  })
}

interface One {
  readonly place: StrobePlace
  readonly step: StrobeStep
  readonly estimate: Estimate
}

/** Every value, of both steps. */
export const valuesOf = (places: readonly CrosstalkAtPlace[]): One[] =>
  places.flatMap(({ place, ...own }) =>
    STROBE_STEPS.flatMap((step) => {
      const estimate = own[step]
      return estimate === null ? [] : [{ place, step, estimate }]
    }),
  )

function worstOf(places: readonly CrosstalkAtPlace[]): CrosstalkByPlace['worst'] {
  const values = valuesOf(places).sort((a, b) => Math.abs(b.estimate.value) - Math.abs(a.estimate.value))
  const [worst] = values
  if (worst === undefined) return null
  const others = values.filter(({ place }) => place !== worst.place)
  const adjusted = holm(others.map(({ estimate }) => largerP(worst.estimate, estimate)))
  return {
    place: worst.place,
    step: worst.step,
    shown: others.length > 0 && adjusted.every((p) => p < 0.05),
  }
}

/**
 * p-value of "a is not larger than b by size". Sizes differ when both a − b and a + b do, in the direction of a: the
 * larger of the two p-values is that of the claim (intersection–union test, Berger, Technometrics 24 (1982) 295, from
 * memory). 1 without uncertainties.
 */
function largerP(a: Estimate, b: Estimate): number {
  const mirrored = { ...b, value: -b.value }
  const same = (other: Estimate): boolean => Math.sign(difference(a, other).value) === Math.sign(a.value)
  if (!same(b) || !same(mirrored)) return 1
  return Math.max(equalityP(a, b) ?? 1, equalityP(a, mirrored) ?? 1)
}

/** `48.3 ± 1.2 %`. */
export const crosstalkText = (estimate: Estimate): string => withUncertainty(estimate.value, u95Of(estimate), '%')

/** What is shown of it as a table: a row a setting, refresh rate and step. */
export const STROBE_COLUMNS = ['Setting', 'Refresh, Hz', 'Step', ...PLACES, 'Largest at'] as const
export const strobeRows = (all: readonly CrosstalkByPlace[]): string[][] =>
  all.flatMap(({ setting, refreshHz, places, worst }) =>
    STROBE_STEPS.filter((step) => places.some((one) => one[step] !== null)).map((step) => [
      setting,
      hertz(refreshHz),
      step === 'rise' ? 'brighter' : 'darker',
      ...PLACES.map((place) => {
        const estimate = places.find((one) => one.place === place)?.[step]
        return estimate == null ? '–' : crosstalkText(estimate)
      }),
      worst?.step !== step ? '' : worst.shown ? worst.place : places.length === 1 ? 'one place only' : 'not shown',
    ]),
  )
