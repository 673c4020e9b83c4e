/** The figures of a record that displays are compared by: one list for Record, findings, comparison, report and bundle. */
import { type Estimate, u95Of, WELL_KNOWN } from '#shared/findings/campaign/estimate.ts'

export interface RecordFigureInfo {
  readonly label: string
  /** In the middle of a sentence. */
  readonly phrase: string
  /** `1` for a pure number. */
  readonly unit: string
  /** Which end is good; null where neither is, so that displays differ without one being better. */
  readonly better: 'low' | 'high' | null
  /** How it is derived, and what its uncertainty holds. */
  readonly derived: string
}

const DRAWS = 'u by drawing every reading again within its own u, independently'
const coverageOf = (gamut: string): RecordFigureInfo => ({
  label: `${gamut} covered in u′v′`,
  phrase: `coverage of ${gamut} in u′v′`,
  unit: '%',
  better: 'high',
  derived: `Overlap of the two triangles over that of ${gamut}, CIE 1976 u′v′; ${DRAWS}.`,
})
const differenceOf = (metric: string, what: 'mean' | 'largest'): RecordFigureInfo => ({
  label: `Patches, ${what} ΔE ${metric}`,
  phrase: `${what} ΔE ${metric} of the patches`,
  unit: '1',
  better: 'low',
  derived: `${what === 'mean' ? 'Mean' : 'Largest'} over the same patches against the same target; ${DRAWS}.`,
})

export const RECORD_FIGURES = {
  signal_delay_ms: {
    label: 'Signal delay with response to 50 %',
    phrase: 'signal delay',
    unit: 'ms',
    better: 'low',
    derived: 'Mean of the display’s events minus mean of the reference run; u of both means, Welch.',
  },
  total_latency_ms: {
    label: 'Signal delay with response, and mean frame wait',
    phrase: 'signal delay with response, and mean frame wait',
    unit: 'ms',
    better: 'low',
    derived: 'Signal delay plus half of a refresh period; the host’s share is not in it.',
  },
  white_luminance: {
    label: 'White',
    phrase: 'luminance of white',
    unit: 'cd/m²',
    better: 'high',
    derived: 'Grey level 255 of the ladder, by meter or calibrated detector; u as stated with the reading.',
  },
  contrast: {
    label: 'Contrast',
    phrase: 'contrast',
    unit: ': 1',
    better: 'high',
    derived: 'White over black; at least, one-sided 95 %, where black lies in the noise of the reading.',
  },
  gamma: {
    label: 'Gamma',
    phrase: 'gamma',
    unit: '1',
    better: null,
    derived: 'Slope of ln light over ln code, least squares; u from the residuals. Neither end is better by itself.',
  },
  de2000_mean: differenceOf('2000', 'mean'),
  de2000_max: differenceOf('2000', 'largest'),
  deitp_mean: differenceOf('ITP', 'mean'),
  deitp_max: differenceOf('ITP', 'largest'),
  coverage_srgb: coverageOf('sRGB'),
  'coverage_display-p3': coverageOf('Display P3'),
  coverage_bt2020: coverageOf('BT.2020'),
  volume_lab: {
    label: 'Gamut volume in L*a*b*',
    phrase: 'gamut volume in L*a*b*',
    unit: '10³ ΔE*ab³',
    better: 'high',
    derived: `Solid of all mixtures of the primaries against their own white; ${DRAWS}.`,
  },
  volume_itp: {
    label: 'Gamut volume in ICtCp',
    phrase: 'gamut volume in ICtCp',
    unit: '10³ ΔE ITP³',
    better: 'high',
    derived: `Solid of all mixtures in I, Ct/2, Cp times 720 (ΔE ITP steps) at the display’s own luminance; ${DRAWS}.`,
  },
  uniformity: {
    label: 'Darkest over brightest',
    phrase: 'darkest over brightest place',
    unit: '%',
    better: 'high',
    derived: `Least over largest luminance of the places; ${DRAWS}. Noise lowers it.`,
  },
  percent_flicker: {
    label: 'Percent flicker',
    phrase: 'percent flicker',
    unit: '%',
    better: 'low',
    derived: '100·(max − min)/(max + min) of the mean cycle; u as stated with the reading.',
  },
  strobe_crosstalk: {
    label: 'Strobe crosstalk, worst place',
    phrase: 'strobe crosstalk at the worst place',
    unit: '%',
    better: 'low',
    derived: 'Largest of the places by size; u as stated at that place. Noise raises it.',
  },
  power_w: {
    label: 'Power',
    phrase: 'power',
    unit: 'W',
    better: 'low',
    derived: 'As read at the stated picture and its mean luminance; u as stated with the reading.',
  },
  power_per_cd: {
    label: 'Power per candela',
    phrase: 'power per candela',
    unit: 'W/cd',
    better: 'low',
    derived: 'Power over mean luminance times area at the stated picture; u of the power alone.',
  },
} as const satisfies Record<string, RecordFigureInfo>

export type RecordFigureId = keyof typeof RECORD_FIGURES
export const RECORD_FIGURE_IDS = Object.keys(RECORD_FIGURES) as RecordFigureId[]
export const recordFigureInfo = (id: RecordFigureId): RecordFigureInfo => RECORD_FIGURES[id]

/** What must be the same for two values to be compared, in the words that are shown; numbers agree within `NEAR`. */
export type Conditions = Readonly<Record<string, string | number>>

/** Part by which numbers of conditions, such as a luminance, may differ (a choice). */
export const NEAR = 0.05

/** A figure of a record as the comparison takes it. */
export interface RecordValue {
  readonly figure: RecordFigureId
  readonly estimate: Estimate
  /** True where the value is only a bound: the true one is at least this. */
  readonly atLeast: boolean
  readonly conditions: Conditions
  /** Readings it is made of. */
  readonly readingIds: readonly number[]
}

/** One figure of a quantity as it is shown. */
export interface RecordFigure {
  readonly label: string
  readonly value: number
  readonly unit: string
  /** Half width of the 95 % interval; null when it cannot be stated. */
  readonly u95: number | null
  /** Significant digits it carries where no uncertainty is known; 4 when not said. */
  readonly digits?: number
  /** `at-least`: the value is a lower bound. */
  readonly bound?: 'at-least'
  readonly note?: string
  /** What the comparison takes it as; absent where it is shown only. */
  readonly compared?: Omit<RecordValue, 'readingIds'>
}

/** An estimate of which nothing is shared with other displays; u null or undefined is unknown. */
export const ownEstimate = (value: number, u: number | null | undefined, dof = WELL_KNOWN): Estimate => ({
  value,
  u: u ?? null,
  dof: u == null ? 0 : Math.min(dof, WELL_KNOWN),
  shared: 0,
})

/** A figure of the list as it is shown on the record. */
export function listedFigure(
  figure: RecordFigureId,
  estimate: Estimate,
  conditions: Conditions,
  more: Pick<RecordFigure, 'note' | 'bound' | 'digits'> & { readonly label?: string } = {},
): RecordFigure {
  const { label, unit } = recordFigureInfo(figure)
  const { bound } = more
  return {
    label,
    ...more,
    value: estimate.value,
    unit,
    u95: u95Of(estimate),
    compared: { figure, estimate, atLeast: bound === 'at-least', conditions },
  }
}
