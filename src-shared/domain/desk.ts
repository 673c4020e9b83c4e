/** What the trace desk asks for beyond lists and single captures; all of it crosses process borders. */
import { z } from 'zod'
import type { CaptureInfo } from './capture.ts'
import { FLAG_IDS, type Result } from './result.ts'
import type { Envelope, ReviewEntry } from './views.ts'

/** A place in a filtered and sorted list of captures. */
export interface CapturePlace {
  readonly captureId: number
  /** 0-based. */
  readonly index: number
  readonly total: number
}

/** Everything the desk shows of one capture beside its trace. */
export interface CaptureDetail {
  readonly info: CaptureInfo
  /** The result that counts: measured with the standing override, else the machine's own. */
  readonly result: Result | null
  /** The machine's own result, where `result` was measured with an override; null otherwise. */
  readonly ownResult: Result | null
  /** `result` was measured with marks a person moved. */
  readonly overridden: boolean
  /** The newer good capture that counts in this one's place; null when this one is the newest of its position. */
  readonly supersededBy: number | null
  /** Oldest first, also those that were taken back. */
  readonly reviews: readonly ReviewEntry[]
  /** The note that stands; null when there is none. */
  readonly note: NoteEntry | null
}

/** A repeat of the same transition in the same sweep, drawn over the asked capture. */
export interface OverlayTrace {
  readonly captureId: number
  readonly repeat: number
  /** Enters the mean: neither excluded, sent back nor replaced by a newer capture. */
  readonly counts: boolean
  /** Why it does not count; empty when it does. */
  readonly reason: string
  /** Added to its own times so that its 50 % crossing falls on the asked capture's, s; already in the envelope. */
  readonly shiftS: number
  readonly envelope: Envelope
}

/**
 * Repeats laid over one capture, aligned at the 50 % crossing. Volts as the recipe conditions them; times in s from the
 * asked capture's first sample.
 */
export interface Overlay {
  readonly captureId: number
  /** The 50 % crossing everything is aligned at; null when the capture has none (nothing is laid over then). */
  readonly alignedAtS: number | null
  readonly own: Envelope
  readonly others: readonly OverlayTrace[]
  /** Mean of the others that count, on the columns of `own` that all of them reach; null when none counts. */
  readonly mean: Envelope | null
  /** The asked capture minus that mean, V, sample by sample, on the same columns. */
  readonly residual: Envelope | null
  /** Captures in the mean, and repeats left out of it. */
  readonly counted: number
  readonly excluded: number
  /** Why there is no mean, or what to know about it; empty otherwise. */
  readonly note: string
}

interface SpectrumLine {
  readonly frequencyHz: number
  /** Amplitude of the sine, V (half its peak-to-peak). */
  readonly amplitudeV: number
  /** What a line at this frequency usually is, in words; empty when nothing is known to fit. */
  readonly name: string
}

/**
 * Amplitude spectrum of a span of the raw trace: straight line removed, Hann window. Each value is the amplitude (half
 * the peak-to-peak, not RMS) of a sine at the frequency of its bin, V.
 */
export interface SpectrumView {
  /** Span that was used, s from the first sample. */
  readonly fromS: number
  readonly toS: number
  /** Frequency of bin k is k × binHz. */
  readonly binHz: number
  /** Width of one resolution cell, Hz: two lines closer than about twice this are seen as one. */
  readonly resolutionHz: number
  readonly amplitudeV: Float32Array
  /** Highest frequency shown, Hz, and what it is owed to when the span was averaged in blocks first; else empty. */
  readonly note: string
  /** Lines that stand out of their surroundings, strongest first. */
  readonly lines: readonly SpectrumLine[]
}

/** A capture a person sent back, and which a sweep will take again. */
export interface RetakeEntry {
  readonly sweepId: number
  readonly setting: string
  readonly refreshHz: number
  readonly captureId: number
  readonly from: number
  readonly to: number
  readonly repeat: number
  readonly position: number
  readonly reason: string
  readonly reviewer: string
  readonly at: string
  /** Attempts made since it was sent back, none of them good. */
  readonly attempts: number
  /** Why it cannot be taken again (an imported sweep has no rig); empty when it can. */
  readonly obstacle: string
}

/** Empty text takes the note away; what it said stays in the history. */
export const newNoteSchema = z.strictObject({
  captureId: z.int().min(1),
  text: z.string().trim().max(2000),
  reviewer: z.string().trim().min(1).max(80),
})
export type NewNote = z.infer<typeof newNoteSchema>

export interface NoteEntry extends NewNote {
  readonly id: number
  readonly at: string
  readonly undone: boolean
}

/** One step of what people did, reviews and notes in one order. */
export interface HistoryEntry {
  /** Greater is later; reviews and notes share the numbers. */
  readonly id: number
  readonly kind: 'review' | 'note'
  readonly captureId: number
  readonly sweepId: number
  readonly from: number
  readonly to: number
  readonly repeat: number
  readonly at: string
  readonly reviewer: string
  /** What it did, in words that fit on a button: “exclude capture 12 (0 → 255, repeat 2)”. */
  readonly words: string
  /** Captures that the same command decided on, this one among them; empty where it was alone. */
  readonly companions: readonly number[]
  /** Reason of the review or text of the note. */
  readonly text: string
  readonly undone: boolean
  readonly review: ReviewEntry | null
  readonly note: NoteEntry | null
}

/** Which captures of a sweep one decision is about; those reviewed already keep their own. */
const reviewScopeSchema = z.strictObject({
  recipeHash: z.string().max(64),
  sweepId: z.int().min(1),
  from: z.int().optional(),
  to: z.int().optional(),
  flag: z.enum(FLAG_IDS).optional(),
})
export type ReviewScope = z.infer<typeof reviewScopeSchema>

/** One decision on many captures, undone in one step. Marks are moved one capture at a time. */
export const newReviewsSchema = z.strictObject({
  scope: reviewScopeSchema,
  decision: z.enum(['keep', 'exclude', 'retake']),
  reason: z.string().trim().min(1, 'A decision needs a reason.').max(500),
  reviewer: z.string().trim().min(1).max(80),
})
export type NewReviews = z.infer<typeof newReviewsSchema>

export const newAcceptedFlagSchema = z.strictObject({
  sweepId: z.int().min(1),
  flag: z.enum(FLAG_IDS),
  reason: z.string().trim().min(1, 'Accepting a flag needs a reason.').max(500),
  reviewer: z.string().trim().min(1).max(80),
})
export type NewAcceptedFlag = z.infer<typeof newAcceptedFlagSchema>

/** A flag that does not make captures of its sweep doubtful, because a person knows why it is there. */
export interface AcceptedFlag extends NewAcceptedFlag {
  readonly at: string
}

/** What undoing or redoing did. */
export interface UndoAnswer {
  /** “Undone: exclude capture 12 (0 → 255, repeat 2).” and, where it matters, what follows from it. */
  readonly words: string
  readonly entry: HistoryEntry
}

/** Labels of the undo and redo buttons; null when there is nothing to undo or redo. */
export interface UndoSteps {
  readonly undo: string | null
  readonly redo: string | null
}

const DECISIONS = {
  keep: 'keep',
  exclude: 'exclude',
  retake: 'send back',
  override: 'move the marks of',
} as const

/** A step in words that fit on a button. */
export function stepWords(
  step: Pick<HistoryEntry, 'captureId' | 'from' | 'to' | 'repeat' | 'text' | 'review'>,
  captures = 1,
): string {
  if (step.review !== null && captures > 1) return `${DECISIONS[step.review.decision]} ${captures} captures`
  const capture = `capture ${step.captureId} (${step.from} → ${step.to}, repeat ${step.repeat})`
  if (step.review !== null) return `${DECISIONS[step.review.decision]} ${capture}`
  return step.text === '' ? `remove the note from ${capture}` : `note on ${capture}`
}
