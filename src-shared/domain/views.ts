/** Plain objects shown by the interface and the command line; all of them cross process borders. */
import { z } from 'zod'
import type { CaptureInfo, SweepState, Verdict } from './capture.ts'
import { MEASURE_IDS, type MeasureId } from './measures.ts'
import { FLAG_IDS, type FlagId, type Result } from './result.ts'
import type { GuidedProgress } from './guided.ts'
import type { JobProgress } from './job.ts'
import type { RigState } from './rig.ts'
import type { RunProgress } from './run.ts'

export interface LogEntry {
  readonly id: number
  readonly at: string
  readonly sweepId: number | null
  readonly level: 'info' | 'warn' | 'error'
  readonly text: string
}

export const measureIdSchema = z.enum(MEASURE_IDS as [MeasureId, ...MeasureId[]])

export const captureFilterSchema = z.strictObject({
  recipeHash: z.string().max(64),
  campaignId: z.int().optional(),
  sweepId: z.int().optional(),
  from: z.int().optional(),
  to: z.int().optional(),
  flag: z.enum(FLAG_IDS).optional(),
  /** Captures with at least one flag and no standing review. */
  doubtful: z.boolean().optional(),
  verdict: z.enum(['good', 'dropped-frame', 'gapped', 'no-edge']).optional(),
  review: z.enum(['none', 'keep', 'exclude', 'retake', 'override']).optional(),
  /** With (true) or without (false) a note. */
  noted: z.boolean().optional(),
  sort: z
    .strictObject({ by: z.union([z.literal('id'), z.literal('flags'), measureIdSchema]), descending: z.boolean() })
    .default({ by: 'id', descending: false }),
  offset: z.int().min(0).default(0),
  limit: z.int().min(1).max(5000).default(200),
})
export type CaptureFilter = z.infer<typeof captureFilterSchema>

export interface CaptureRow {
  readonly info: CaptureInfo
  readonly flags: readonly FlagId[]
  readonly review: ReviewDecision | null
  /** The values were measured with marks a person moved. */
  readonly overridden: boolean
  readonly noted: boolean
  /** A newer good capture counts in its place. */
  readonly superseded: boolean
  readonly values: Readonly<Record<MeasureId, number | null>> | null
}

const reviewDecisionSchema = z.enum(['keep', 'exclude', 'retake', 'override'])
export type ReviewDecision = z.infer<typeof reviewDecisionSchema>

/** Marks a person moved by hand, in s from the first sample; absent ones stay with the machine. */
export const overrideSchema = z.strictObject({
  beforeWindow: z.tuple([z.number(), z.number()]).optional(),
  afterWindow: z.tuple([z.number(), z.number()]).optional(),
  /** Span that is looked at, s. */
  span: z.tuple([z.number(), z.number()]).optional(),
  crossLowS: z.number().optional(),
  crossHighS: z.number().optional(),
})
export type Override = z.infer<typeof overrideSchema>

export const newReviewSchema = z.strictObject({
  captureId: z.int(),
  decision: reviewDecisionSchema,
  reason: z.string().trim().min(1, 'A decision needs a reason.').max(500),
  reviewer: z.string().trim().min(1).max(80),
  override: overrideSchema.nullable().default(null),
})
export type NewReview = z.infer<typeof newReviewSchema>

export interface ReviewEntry extends NewReview {
  readonly id: number
  readonly at: string
  readonly undone: boolean
}

/** One capture's contribution to a matrix. */
export interface MatrixEntry {
  readonly captureId: number
  readonly repeat: number
  readonly values: Readonly<Partial<Record<MeasureId, number | null>>>
  /** Standard uncertainties of the values, everything together; a value that states none is absent. */
  readonly uncertainties?: Readonly<Partial<Record<MeasureId, number>>>
  /** The part of each that all repeats share and that does not average, 0 where it has none; absent where it is not told apart. */
  readonly common?: Readonly<Partial<Record<MeasureId, number>>>
  /** `in_window` has no value because its limit lies inside the uncertainty. */
  readonly undecided?: boolean
  readonly flagCount: number
  readonly excluded: boolean
  readonly overridden: boolean
}

/** All good captures of a sweep under one recipe, cell by cell; statistics are drawn from it in `findings`. */
export interface MatrixData {
  readonly sweepId: number
  readonly recipeHash: string
  readonly levels: readonly number[]
  readonly cells: readonly { readonly from: number; readonly to: number; readonly entries: readonly MatrixEntry[] }[]
  /** Good captures that have no result under this recipe yet. */
  readonly unmeasured: number
}

/** Min/max envelope of a trace, one pair per column, or plain samples when columns are no wider than one sample. */
export interface Envelope {
  readonly startS: number
  /** Width of a column, s. */
  readonly stepS: number
  readonly min: Float32Array
  readonly max: Float32Array
}

export interface StimulusState {
  readonly kind: 'simulated' | 'page' | 'window' | 'none'
  readonly connected: boolean
  readonly fullScreen: boolean
  /** Refresh measured by the page, Hz, and the number of frames it was measured over. */
  readonly measuredHz: number | null
  readonly frames: number
  readonly level: number | null
  readonly problem: string
}

export interface SweepProgress {
  readonly sweepId: number
  readonly state: SweepState
  readonly reason: string
  readonly done: number
  readonly missing: number
  readonly total: number
  readonly retakes: number
  readonly elapsedS: number
  /** Time left computed from what is measured; null before the first capture. */
  readonly leftS: number | null
  readonly current: {
    readonly from: number
    readonly to: number
    readonly repeat: number
    readonly attempt: number
  } | null
}

/** A person's own archive, or the demo library with its invented displays. */
export const ARCHIVE_CHOICES = ['own', 'demo'] as const
export type ArchiveChoice = (typeof ARCHIVE_CHOICES)[number]

export interface HostState {
  readonly rig: RigState
  readonly stimulus: StimulusState
  readonly sweep: SweepProgress | null
  /** The run of a campaign at work; null when there is none. */
  readonly run: RunProgress | null
  /** The guided sequence at work; null when there is none. */
  readonly guided: GuidedProgress | null
  readonly jobs: readonly JobProgress[]
  /** Recipe all screens use. */
  readonly recipeHash: string
  /** The one before it, to switch back to; null when there was none. */
  readonly recipeHashBefore: string | null
  readonly monitoring: boolean
  /** The seizure warning was acknowledged on this machine. */
  readonly warningAcknowledged: boolean
}

export type HostEvent =
  | { readonly kind: 'state'; readonly state: HostState }
  | { readonly kind: 'capture'; readonly captureId: number; readonly sweepId: number; readonly verdict: Verdict }
  | { readonly kind: 'log'; readonly entry: LogEntry }
  /** Something stored changed: what shows it is to be asked again. */
  | { readonly kind: 'changed'; readonly what: Changed }

export type Changed = 'results' | 'reviews' | 'recipes' | 'sweeps' | 'campaigns' | 'readings' | 'library'

/** Newest recording for the live plot. */
export interface LiveView {
  readonly revision: number
  /** Null while aiming. */
  readonly sweepId: number | null
  /** Mean of the recording, V. */
  readonly meanV: number
  readonly captureId: number | null
  readonly from: number | null
  readonly to: number | null
  readonly refreshHz: number
  readonly envelope: Envelope
  readonly result: Result | null
  readonly rangeV: number
  /** Instant of the rig's trigger, s from the first sample; null or absent when the recording had none. */
  readonly triggerS?: number | null
}

export interface TraceView {
  readonly info: CaptureInfo
  readonly raw: Envelope
  /** After conditioning by the recipe; null when the recipe leaves the trace as it is. */
  readonly conditioned: Envelope | null
  readonly refreshHz: number
  readonly rangeV: number
}

/** What one plan would cost, before it is started. */
export interface PlanCheck {
  readonly problems: readonly string[]
  readonly transitions: number
  readonly captures: number
  readonly ladderS: number
  readonly estimatedS: number
  readonly samplesPerCapture: number
  readonly bytesPerCapture: number
}

/** One stored capture under a recipe that need not be saved. */
export interface RecipePreview {
  readonly result: Result
  /** The whole record after conditioning; null when the recipe leaves the trace as it is, or none was asked for. */
  readonly conditioned: Envelope | null
}
