/** Domain objects as the stable JSON of the command line: snake case, units as suffixes. */
import type { Campaign, CaptureInfo, Sweep } from '#shared/domain/capture.ts'
import type { HistoryEntry, NoteEntry, RetakeEntry } from '#shared/domain/desk.ts'
import type { MeasureId } from '#shared/domain/measures.ts'
import type { SweepPlan } from '#shared/domain/plan.ts'
import type { CaptureRow, LogEntry, ReviewEntry } from '#shared/domain/views.ts'
import type { CellStatistics } from '#shared/findings/matrix.ts'
import type { ShareValue, SummaryValue, SweepSummary } from '#shared/findings/summary.ts'
import type { KnownRecipe } from './choose-recipe.ts'
import { keyIn } from './quantities.ts'

export type Json = Record<string, unknown>

export const recipeJson = ({ hash, recipe }: KnownRecipe, algorithm: string): Json => ({
  name: recipe.name,
  hash,
  algorithm,
  parameters: recipe,
})

export const campaignJson = ({ id, name, display, note, createdAt, origin }: Campaign): Json => ({
  campaign_id: id,
  name,
  display,
  note,
  created_at: createdAt,
  origin,
})

const planJson = (plan: SweepPlan): Json => ({
  setting: plan.setting,
  refresh_hz: plan.refreshHz,
  levels_code: plan.levels,
  repeats: plan.repeats,
  max_attempts: plan.maxAttempts,
  seed: plan.seed,
  pre_s: plan.preS,
  post_s: plan.postS,
  spacing_s: plan.spacingS,
  sample_rate_hz: plan.sampleRateHz,
  range_v: plan.rangeV,
  trigger: plan.trigger,
  transfer: plan.transfer,
})

export const sweepJson = (sweep: Sweep): Json => ({
  sweep_id: sweep.id,
  campaign_id: sweep.campaignId,
  state: sweep.state,
  reason: sweep.reason,
  origin: sweep.origin,
  created_at: sweep.createdAt,
  rig: sweep.rigIdentity,
  captures_total: sweep.total,
  captures_done: sweep.done,
  captures_missing: sweep.missing,
  plan: planJson(sweep.plan),
})

export const captureJson = (info: CaptureInfo): Json => ({
  capture_id: info.id,
  sweep_id: info.sweepId,
  from_code: info.from,
  to_code: info.to,
  repeat: info.repeat,
  attempt: info.attempt,
  position: info.position,
  taken_at: info.takenAt,
  verdict: info.verdict,
  samples: info.sampleCount,
  sample_rate_hz: info.sampleRateHz,
  trigger_index: info.triggerIndex,
  source: info.source,
  frame_s: info.frameLog?.frameMs == null ? null : info.frameLog.frameMs / 1000,
  frame_dropped: info.frameLog === null ? null : info.frameLog.dropped,
})

export const captureRowJson = ({ info, flags, review, overridden, superseded, noted, values }: CaptureRow): Json => ({
  ...captureJson(info),
  flags,
  review,
  overridden,
  superseded,
  noted,
  result: values,
})

export const reviewJson = (review: ReviewEntry): Json => ({
  review_id: review.id,
  at: review.at,
  decision: review.decision,
  reason: review.reason,
  reviewer: review.reviewer,
  override: review.override,
  undone: review.undone,
})

export const noteJson = (note: NoteEntry): Json => ({
  note_id: note.id,
  at: note.at,
  text: note.text,
  reviewer: note.reviewer,
  undone: note.undone,
})

export const historyJson = (entry: HistoryEntry): Json => ({
  step_id: entry.id,
  kind: entry.kind,
  capture_id: entry.captureId,
  sweep_id: entry.sweepId,
  from_code: entry.from,
  to_code: entry.to,
  repeat: entry.repeat,
  at: entry.at,
  reviewer: entry.reviewer,
  words: entry.words,
  decision: entry.review?.decision ?? null,
  text: entry.text,
  override: entry.review?.override ?? null,
  undone: entry.undone,
})

export const retakeJson = (entry: RetakeEntry): Json => ({
  sweep_id: entry.sweepId,
  setting: entry.setting,
  refresh_hz: entry.refreshHz,
  capture_id: entry.captureId,
  from_code: entry.from,
  to_code: entry.to,
  repeat: entry.repeat,
  position: entry.position,
  reason: entry.reason,
  reviewer: entry.reviewer,
  at: entry.at,
  attempts: entry.attempts,
  obstacle: entry.obstacle,
})

export const logJson = ({ id, at, sweepId, level, text }: LogEntry): Json => ({
  entry_id: id,
  at,
  sweep_id: sweepId,
  level,
  text,
})

/** Endless degrees of freedom are no number of JSON. */
const finite = (dof: number | null): number | null => (dof === Infinity ? null : dof)

export const cellJson = (cell: CellStatistics, measure: MeasureId): Json => ({
  from_code: cell.from,
  to_code: cell.to,
  n: cell.n,
  [keyIn('mean', measure)]: cell.mean,
  [keyIn('sd', measure)]: cell.s,
  [keyIn('u95', measure)]: cell.u95,
  dof: finite(cell.dof),
  [keyIn('u_repeats', measure)]: cell.budget?.repeats ?? null,
  [keyIn('u_common', measure)]: cell.budget?.common ?? null,
  pooled: cell.pooledAs,
  [keyIn('min', measure)]: cell.min,
  [keyIn('max', measure)]: cell.max,
  [keyIn('median', measure)]: cell.median,
  undecided: cell.undecided,
  excluded: cell.excluded,
  without_value: cell.withoutValue,
  missing: cell.missing,
  flagged: cell.flagged,
  overridden: cell.overridden,
  note: cell.note,
})

const valueJson = ({ value, cells, n, u, common, dof, pooled, u95, note }: SummaryValue, measure: MeasureId): Json => ({
  [keyIn('value', measure)]: value,
  [keyIn('u95', measure)]: u95,
  dof: finite(dof),
  [keyIn('u_repeats', measure)]: u,
  [keyIn('u_common', measure)]: common,
  pooled_transitions: pooled,
  transitions: cells,
  n,
  note,
})

const shareJson = (share: ShareValue): Json => ({
  value_pct: share.value,
  u95_pct: share.u95,
  low_pct: share.lowPct,
  high_pct: share.highPct,
  count: share.count,
  undecided: share.undecided,
  transitions: share.cells,
  n: share.n,
  note: share.note,
})

export const summaryJson = (summary: SweepSummary): Json => ({
  measure: summary.measure,
  mean: valueJson(summary.mean, summary.measure),
  median: valueJson(summary.median, summary.measure),
  worst: {
    ...valueJson(summary.worst, summary.measure),
    from_code: summary.worst.from,
    to_code: summary.worst.to,
  },
  rise_mean: valueJson(summary.riseMean, summary.measure),
  fall_mean: valueJson(summary.fallMean, summary.measure),
  dark_mean: valueJson(summary.darkMean, summary.measure),
  in_window_share: shareJson(summary.inWindowShare),
  overshoot_mean: valueJson(summary.overshootMean, 'overshoot_pct'),
  overshoot_over_limit_share: shareJson(summary.overshootOverLimitShare),
  dark_code: summary.darkCode,
  overshoot_limit_pct: summary.overshootLimitPct,
  counts: {
    transitions: summary.counts.transitions,
    empty_transitions: summary.counts.emptyTransitions,
    captures: summary.counts.captures,
    excluded: summary.counts.excluded,
    without_value: summary.counts.withoutValue,
    flagged: summary.counts.flagged,
    overridden: summary.counts.overridden,
    unmeasured: summary.counts.unmeasured,
    missing: summary.counts.missing,
  },
})
