/** What the use cases need from the outside. Adapters implement these; core imports no adapter. */
import type { GroupRow } from '#shared/measure/group-flags.ts'
import type {
  CaptureInfo,
  Campaign,
  FrameLog,
  Ladder,
  RawTrace,
  Sweep,
  SweepState,
  Verdict,
} from '#shared/domain/capture.ts'
import type {
  CaptureFilter,
  CaptureRow,
  LogEntry,
  MatrixData,
  NewReview,
  Override,
  ReviewEntry,
  StimulusState,
} from '#shared/domain/views.ts'
import type { CaptureDetail, CapturePlace, HistoryEntry, NewNote, NoteEntry, RetakeEntry } from '#shared/domain/desk.ts'
import type { ErrorDetail } from '#shared/domain/errors.ts'
import type { SweepPlan } from '#shared/domain/plan.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { Result } from '#shared/domain/result.ts'
import type { RigState, RigTarget, SerialPortInfo, SimFault } from '#shared/domain/rig.ts'
import type { MeasureId } from '#shared/domain/measures.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import type { Flag } from '#shared/domain/result.ts'
import type { Pyramid } from '#shared/signal/envelope.ts'

export interface Clock {
  /** Seconds of this clock per real second; 1 when absent. Waits for a machine's own work count in real seconds. */
  readonly rate?: number
  /** Monotonic time, s. */
  now(): number
  /** Wall-clock time, ISO 8601 UTC. */
  iso(): string
  sleep(seconds: number, signal?: AbortSignal): Promise<void>
}

export interface Log {
  info(message: string, detail?: Record<string, unknown>): void
  warn(message: string, detail?: Record<string, unknown>): void
  error(message: string, detail?: Record<string, unknown>): void
}

export interface RecordSettings {
  readonly sampleRateHz: number
  readonly points: number
  /** Samples kept before the trigger. */
  readonly preTriggerPoints: number
  readonly rangeV: number
  readonly trigger:
    | { readonly source: 'immediate' | 'bus' }
    | { readonly source: 'level'; readonly levelV: number; readonly slope: 'rising' | 'falling' }
  readonly transfer: 'int16' | 'real32'
  /** Longest time the plan allows for bringing the samples over the link, s; the rig's own limit when absent. */
  readonly transferLimitS?: number
  /** How long `read` waits for a light edge, s; the rig's own limit when absent. */
  readonly triggerWaitS?: number
}

export interface Recording {
  readonly trace: RawTrace
  readonly triggerIndex: number
  /** The rig reported that the input ran into a rail (STATus:QUEStionable bit 0). */
  readonly clippedByRig: boolean
}

/** A connected digitizer. Every call rejects with an AppError whose code starts with `rig-` or is `link-too-slow`. */
export interface Digitizer {
  /** Refuses with `link-too-slow` or `rig-unsuitable`, with numbers, before anything is armed. */
  configure(settings: RecordSettings, signal?: AbortSignal): Promise<void>
  /** Starts the acquisition; resolves once the rig confirms that it waits for its trigger (or records). */
  arm(signal?: AbortSignal): Promise<void>
  /** Sends the bus trigger. */
  trigger(): Promise<void>
  /**
   * Waits for the end of the acquisition and reads the block. Called after the level was switched, so an acquisition
   * that has not ended by its own duration plus a few seconds means that no light edge came: `rig-timeout`.
   */
  read(signal?: AbortSignal): Promise<Recording>
  /** Back to idle from any state. */
  abort(): Promise<void>
}

export interface Rig {
  state(): RigState
  onState(listener: (state: RigState) => void): () => void
  ports(): Promise<SerialPortInfo[]>
  connect(target: RigTarget, signal?: AbortSignal): Promise<void>
  disconnect(): Promise<void>
  /** The connected digitizer; throws `rig-absent` or `rig-lost`. */
  digitizer(): Digitizer
  /** Simulated rigs only; `conflict` otherwise. */
  inject(fault: SimFault): Promise<void>
}

/** Puts levels on the display under test. */
export interface Stimulus {
  state(): StimulusState
  onState(listener: (state: StimulusState) => void): () => void
  /** Prepares patch and refresh; rejects with `stimulus-absent` or `stimulus-mismatch` (measured refresh differs from the plan). */
  prepare(plan: SweepPlan, signal?: AbortSignal): Promise<void>
  /** Switches to a level and answers with the frame log of the switch. */
  show(level: number, signal?: AbortSignal): Promise<FrameLog>
  release(): Promise<void>
}

export interface NewCapture {
  readonly sweepId: number
  readonly from: number
  readonly to: number
  readonly repeat: number
  readonly attempt: number
  readonly position: number
  readonly takenAt: string
  readonly verdict: Verdict
  readonly trace: RawTrace
  readonly triggerIndex: number
  readonly source: string
  readonly frameLog: FrameLog | null
}

/** A capture that statistics may draw on. */
export interface UsableCapture {
  readonly captureId: number
  readonly sweepId: number
  readonly from: number
  readonly to: number
}

/** What measuring needs of a stored capture. */
export interface StoredInput {
  readonly captureId: number
  readonly sweepId: number
  readonly from: number
  readonly to: number
  readonly triggerIndex: number
  readonly trace: RawTrace
  /** Standing override and the review it comes from; results measured with it are stored under that review. */
  readonly override: Override | null
  readonly overrideId: number | null
}

/** The archive. Rejections carry `archive-*`, `not-found`, `conflict` or `worker-died`. */
export interface Store {
  info(): Promise<{ path: string; captures: number; bytes: number }>
  createCampaign(campaign: { name: string; display: string; note: string; invented: boolean }): Promise<Campaign>
  campaigns(): Promise<Campaign[]>
  createSweep(sweep: {
    campaignId: number
    plan: SweepPlan
    origin: 'rig' | 'import'
    rigIdentity: string
    total: number
    /** Left out of lists from the start. */
    hidden?: boolean
  }): Promise<Sweep>
  sweep(id: number): Promise<Sweep>
  /** In id order; those taken back only with `includeHidden`. */
  sweeps(campaignId?: number, includeHidden?: boolean): Promise<Sweep[]>
  setSweepState(id: number, state: SweepState, reason: string): Promise<Sweep>
  /** Takes a sweep out of every list that is not about it alone, or puts it back; nothing is deleted. */
  setSweepHidden(id: number, hidden: boolean): Promise<Sweep>
  setLadder(id: number, ladder: Ladder): Promise<void>
  /** Stores raw trace, overview and (when given) result in one transaction; returns once it is safe on disk. */
  addCapture(capture: NewCapture, result: Result | null): Promise<CaptureInfo>
  /** Good captures by position, and the number of attempts already made at each position. */
  progress(sweepId: number): Promise<{ position: number; attempts: number; good: boolean }[]>
  captures(filter: CaptureFilter): Promise<{ rows: CaptureRow[]; total: number }>
  /** See `captures.neighbour` of the contract. */
  neighbour(filter: CaptureFilter, captureId: number, direction: 'next' | 'previous'): Promise<CapturePlace | null>
  position(filter: CaptureFilter, captureId: number): Promise<CapturePlace | null>
  detail(captureId: number, recipeHash: string): Promise<CaptureDetail>
  /** Good captures of the same transition in the same sweep, the asked one among them; `counts` when means hold it. */
  repeats(captureId: number): Promise<{ captureId: number; repeat: number; counts: boolean; reason: string }[]>
  /** Captures sent back and not taken again yet, by sweep and position. */
  retakes(sweepId?: number): Promise<RetakeEntry[]>
  capture(id: number): Promise<CaptureInfo>
  trace(id: number): Promise<RawTrace>
  /** Min/max blocks of the samples, in sample units: a picture of the whole record without reading it. */
  overview(id: number): Promise<Pyramid>
  /**
   * Traces with what measuring them needs, in the order asked, in one answer. Unknown ids are left out; an answer ends
   * early (after one capture at the soonest) when the samples are many, so ask again for the ids after the last one.
   */
  inputs(ids: readonly number[]): Promise<StoredInput[]>
  result(captureId: number, recipeHash: string): Promise<Result | null>
  /** Captures lacking a result of this recipe and algorithm, in id order; of sweeps taken back only when named. */
  unmeasured(recipeHash: string, scope: { campaignId?: number; sweepId?: number }): Promise<number[]>
  /** Recipes under which captures of the sweep have results. */
  measuredRecipes(sweepId: number): Promise<string[]>
  /** Results that are there already are kept. `overrideId` is the review whose marks were used; none for the machine's own. */
  addResults(results: readonly { captureId: number; result: Result; overrideId?: number | null }[]): Promise<void>
  /** What the good captures of a sweep are compared by under a recipe, in id order; those without a result are left out. */
  comparison(sweepId: number, recipeHash: string): Promise<GroupRow[]>
  /** Replaces the flags that come from comparing captures of a sweep with one another (repeats, late edges, ripple). */
  setGroupFlags(sweepId: number, recipeHash: string, flags: readonly { captureId: number; flag: Flag }[]): Promise<void>
  matrix(sweepId: number, recipeHash: string, measures: readonly MeasureId[]): Promise<MatrixData>
  saveRecipe(recipe: Recipe): Promise<{ hash: string }>
  recipes(): Promise<{ hash: string; recipe: Recipe }[]>
  /** Hashes of the recipe all screens use and of the one before it; null where none was chosen in this archive. */
  recipesInUse(): Promise<{ current: string | null; before: string | null }>
  setRecipesInUse(hashes: { current: string; before: string | null }): Promise<void>
  /** Captures that enter statistics (good, newest of their place, not set aside by a review), in id order. */
  usableCaptures(scope: { campaignId?: number; sweepId?: number }): Promise<UsableCapture[]>
  addReview(review: NewReview): Promise<ReviewEntry>
  addNote(note: NewNote): Promise<NoteEntry>
  /** Takes back the newest review or note that still stands; null when there is none. */
  undo(): Promise<HistoryEntry | null>
  /** Puts back the step that was taken back last, unless another one came since. */
  redo(): Promise<HistoryEntry | null>
  /** What undo and redo would act on. */
  steps(): Promise<{ undo: HistoryEntry | null; redo: HistoryEntry | null }>
  /** Newest first; with what was taken back. */
  history(query: { captureId?: number; limit: number }): Promise<HistoryEntry[]>
  reviews(captureId: number): Promise<ReviewEntry[]>
  log(entry: { sweepId: number | null; level: 'info' | 'warn' | 'error'; text: string }): Promise<LogEntry>
  events(query: { sweepId?: number; afterId?: number; limit: number }): Promise<LogEntry[]>
  close(): Promise<void>
}

/** Files a person chose for import, outside memory until they are imported or given up. */
export interface Staging {
  /** Adds a piece to the end of a file, a new one for null; answers with its id. Rejects when it grows too large. */
  append(id: string | null, bytes: Uint8Array): Promise<string>
  /** Rejects with `not-found` when the file was given up. */
  read(id: string): Promise<Uint8Array>
  /** Ids that are not known are no error. */
  discard(ids: readonly string[]): Promise<void>
  /** Gives up everything. */
  close(): Promise<void>
}

/** What became of one input of a batch. */
export type MeasureOutcome = { readonly result: Result } | { readonly error: ErrorDetail }

/**
 * Measures captures on other threads. Rejections carry `worker-died` (the thread that had the job ended), `timeout` or
 * `cancelled`; an error thrown by the measurement itself comes through with its own code.
 */
export interface Analyzer {
  measure(input: MeasureInput, signal?: AbortSignal): Promise<Result>
  /**
   * A batch on one thread, answers in order. Takes over the samples: their memory moves to the other thread and the
   * arrays given are empty afterwards. Rejects only as a whole (`worker-died`, `timeout`, `cancelled`).
   */
  measureMany(inputs: readonly MeasureInput[], signal?: AbortSignal): Promise<readonly MeasureOutcome[]>
  /** Threads at work at the same time. */
  readonly concurrency: number
  close(): Promise<void>
}

/** A file made for a person, as text. */
export interface TextFile {
  readonly name: string
  readonly text: string
}

/** Turns stored data into files of the documented formats. */
export interface Exporter {
  csv(
    request: { sweepId: number; recipeHash: string; kind: 'matrix' | 'captures' },
    signal?: AbortSignal,
  ): Promise<TextFile>
  trace(captureId: number, signal?: AbortSignal): Promise<TextFile>
}

/** Which of the stimulus adapters shows levels. */
export interface StimulusRouter extends Stimulus {
  use(kind: 'simulated' | 'page'): void
}
