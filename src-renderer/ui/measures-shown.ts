import { MEASURES, type MeasureId } from '#shared/domain/measures.ts'

/** Measures the bench's matrix can show, in the order of its list. */
export const MATRIX_MEASURES = [
  'transition_duration_s',
  'arrival_s',
  'settling_s',
  'overshoot_pct',
  'overshoot_code',
  'undershoot_pct',
  'undershoot_code',
  'in_window',
  'first_frame_completion_pct',
  'integrated_error_s',
  'blur_edge_s',
  'snr',
] as const satisfies readonly MeasureId[]
export type MatrixMeasure = (typeof MATRIX_MEASURES)[number]

/** Names where a mean over captures reads differently from one capture's value. */
const MATRIX_LABELS: Readonly<Partial<Record<MeasureId, string>>> = {
  in_window: 'In-window share',
  overshoot_pct: 'Overshoot (% of step)',
  undershoot_pct: 'Undershoot (% of step)',
}

export const matrixLabel = (id: MeasureId): string => MATRIX_LABELS[id] ?? MEASURES[id].label

export const MEASURE_CHOICES = MATRIX_MEASURES.map((id) => ({ id, label: matrixLabel(id) }))
