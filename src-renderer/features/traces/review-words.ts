import type { ReviewDecision } from '#shared/domain/views.ts'

/** Reasons offered for each decision; any other can be written. */
export const REASONS: Readonly<Record<ReviewDecision, readonly string[]>> = {
  keep: ['Looked at, in order', 'The flag does not matter here', 'Agrees with its repeats'],
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
  keep: 'It counts by the machine’s own marks, and is doubtful no more.',
  exclude: 'It stays stored but does not enter any mean; it is counted as excluded.',
  retake: 'It does not count any more, and the Bench takes this place of the sweep again.',
  override: 'Its numbers are measured again with these marks; the machine’s own stay beside them.',
}

/** For a sweep out of files: no bench has its display. */
export const RETAKE_OF_IMPORT =
  'It does not count any more. No rig can take an imported capture again: import a new recording of it.'
