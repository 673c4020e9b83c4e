/**
 * The catalogue of measured quantities. One identifier serves the database, exports, the command line and the
 * interface; its suffix is the unit (`_s` seconds, `_pct` percent, `_code` grey-level code, `_v` volts, `_hz` hertz).
 */
export interface MeasureInfo {
  readonly label: string
  readonly unit: 's' | '%' | 'code' | 'V' | 'Hz' | '1'
  /** Whether smaller is better, larger is better, or neither (drives ordering, never colour alone). */
  readonly better: 'low' | 'high' | 'none'
  readonly meaning: string
}

export const MEASURES = {
  transition_duration_s: {
    label: 'Transition duration',
    unit: 's',
    better: 'low',
    meaning: 'Time between the two reference levels of the step, searched outward from the 50 % crossing.',
  },
  transition_duration_corrected_s: {
    label: 'Transition duration, detector removed',
    unit: 's',
    better: 'low',
    meaning:
      'Duration with the detector’s own removed by root-sum-square; only when asked and only up to a ratio of 0.2.',
  },
  arrival_s: {
    label: 'Arrival',
    unit: 's',
    better: 'low',
    meaning: 'From leaving the start band to first entering the end band.',
  },
  settling_s: {
    label: 'Settling',
    unit: 's',
    better: 'low',
    meaning: 'From leaving the start band to the last entry into the end band, kept for the rest of the dwell.',
  },
  overshoot_pct: {
    label: 'Overshoot',
    unit: '%',
    better: 'low',
    meaning: 'Furthest excursion past the target after arrival, in percent of the luminance step.',
  },
  overshoot_code: {
    label: 'Overshoot (code)',
    unit: 'code',
    better: 'low',
    meaning: 'The same excursion as grey-level codes through the inverse of the measured ladder; not clamped at 255.',
  },
  overshoot_instant_s: {
    label: 'Overshoot instant',
    unit: 's',
    better: 'none',
    meaning: 'When the furthest excursion past the target happens, from onset.',
  },
  overshoot_length_s: {
    label: 'Overshoot length',
    unit: 's',
    better: 'low',
    meaning: 'How long the excursion stays outside the end band past the target.',
  },
  undershoot_pct: {
    label: 'Undershoot',
    unit: '%',
    better: 'low',
    meaning: 'Furthest excursion back short of the target after arrival, in percent of the luminance step.',
  },
  undershoot_code: {
    label: 'Undershoot (code)',
    unit: 'code',
    better: 'low',
    meaning: 'The same excursion as grey-level codes through the inverse of the measured ladder.',
  },
  undershoot_instant_s: {
    label: 'Undershoot instant',
    unit: 's',
    better: 'none',
    meaning: 'When the furthest excursion short of the target happens, from onset.',
  },
  undershoot_length_s: {
    label: 'Undershoot length',
    unit: 's',
    better: 'low',
    meaning: 'How long the signal stays outside the end band short of the target after arrival.',
  },
  integrated_error_s: {
    label: 'Integrated error',
    unit: 's',
    better: 'low',
    meaning: '∫|ordinate − target| dt from onset over the stated span, divided by the step: seconds of full error.',
  },
  first_frame_completion_pct: {
    label: 'First-frame completion',
    unit: '%',
    better: 'high',
    meaning: 'Share of the step done one refresh period after onset.',
  },
  in_window: {
    label: 'In window',
    unit: '1',
    better: 'high',
    meaning:
      '1 when settling (or arrival, by recipe) fits the refresh period times (1 + tolerance), 0 when it does not; undecided, without a value, where the limit lies inside its 95 % interval.',
  },
  blur_edge_s: {
    label: 'Blur edge (BET)',
    unit: 's',
    better: 'low',
    meaning: '10–90 % width of the step response convolved with one frame.',
  },
  extended_blur_edge_s: {
    label: 'Extended blur edge (EBET)',
    unit: 's',
    better: 'low',
    meaning: 'Blur edge × 1.25.',
  },
  gaussian_edge_s: {
    label: 'Gaussian edge time',
    unit: 's',
    better: 'low',
    meaning: 'Width 2.563 σ of the Gaussian edge fitted by least squares to the one-frame moving edge.',
  },
  first_pulse_crosstalk_pct: {
    label: 'First-pulse crosstalk',
    unit: '%',
    better: 'low',
    meaning: 'Strobed panels: share of the old level left in the energy of the first pulse after the step.',
  },
  step_v: { label: 'Step', unit: 'V', better: 'none', meaning: 'Signed difference of the two state levels.' },
  noise_v: {
    label: 'Noise',
    unit: 'V',
    better: 'low',
    meaning: 'Standard deviation of single samples, ripple removed.',
  },
  snr: { label: 'Step to noise', unit: '1', better: 'high', meaning: 'Absolute step divided by sample noise.' },
  ripple_frequency_hz: {
    label: 'Ripple frequency',
    unit: 'Hz',
    better: 'none',
    meaning: 'Strongest periodic component of the plateaus.',
  },
  ripple_depth_pct: {
    label: 'Ripple depth',
    unit: '%',
    better: 'low',
    meaning: 'Peak-to-peak ripple over twice its mean.',
  },
} as const satisfies Record<string, MeasureInfo>

export type MeasureId = keyof typeof MEASURES
export const MEASURE_IDS = Object.keys(MEASURES) as MeasureId[]
