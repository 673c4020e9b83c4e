import type { ReviewDecision } from '#shared/domain/views.ts'

/** Reasons offered for each decision; any other can be written. */
export const REASONS: Readonly<Record<ReviewDecision, readonly string[]>> = {
  keep: ['Checked, no problem', 'The flag does not matter here', 'Agrees with its repeats'],
  exclude: ['Sensor moved', 'Light from outside', 'Display changed its mode', 'Does not belong to this transition'],
  retake: ['Clipped', 'Disturbed recording', 'Wrong level shown', 'Too few samples'],
  override: ['Window touched the edge', 'Ripple at a crossing', 'Disturbed at the end'],
}

export const DECISION_LABELS: Readonly<Record<ReviewDecision, string>> = {
  keep: 'Keep',
  exclude: 'Exclude',
  retake: 'Retake',
  override: 'Move marks',
}

/** What a decision does, said where it is made. */
export const CONSEQUENCES: Readonly<Record<ReviewDecision, string>> = {
  keep: 'It counts with its automatic marks and is no longer doubtful.',
  exclude: 'It stays stored but enters no mean; it is counted as excluded.',
  retake: 'It no longer counts. It joins the retakes on the Bench.',
  override: 'It is measured again with these marks; the automatic values stay beside them.',
}

/** For a sweep out of files: no bench has its display. */
export const RETAKE_OF_IMPORT =
  'It no longer counts. An imported capture cannot be retaken: import a new recording instead.'
