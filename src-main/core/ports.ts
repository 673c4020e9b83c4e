/** What the use cases need from the outside. Adapters implement these; core imports no adapter. */
import type { FrameLog, RawTrace } from '#shared/domain/capture.ts'
import type { TableRequest } from '#shared/contract/exports.ts'
import type { ErrorDetail } from '#shared/domain/errors.ts'
import type { GuidedPicture, SensorPlace } from '#shared/domain/guided.ts'
import type { Meter, MeterReading } from '#shared/domain/meter.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import type { SweepPlan } from '#shared/domain/plan.ts'
import type { Result } from '#shared/domain/result.ts'
import type { Picture, PictureKind, PictureRequest } from '#shared/measure/pictures.ts'
import type { LightInput, LightMeasurement } from '#shared/measure/light.ts'
import type { Causes } from '#shared/measure/measure-capture.ts'
import type { BundleCapture, BundleExtra, BundleSubject } from '#shared/domain/bundle.ts'
import type { RigState, RigTarget, SerialPortInfo, SimFault, SimSetting } from '#shared/domain/rig.ts'
import type { FigureHost } from '#shared/figures/svg.ts'
import type { ReportDocument } from '#shared/report/document.ts'
import type { StimulusState } from '#shared/domain/views.ts'
// Types only: what the archive can be asked is written once, where it is answered.
import type { ArchiveOperations } from '#main/store/operations.ts'

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
    /** `external`: an edge at the rig's trigger input, such as that of an input device. */
    | { readonly source: 'immediate' | 'bus' | 'external' }
    | { readonly source: 'level'; readonly levelV: number; readonly slope: 'rising' | 'falling' }
  readonly transfer: 'int16' | 'real32'
  /** Longest time the plan allows for bringing the samples over the link, s; the rig's own limit when absent. */
  readonly transferLimitS?: number
  /** How long `read` waits for a light edge or an external one, s; the rig's own limit when absent. */
  readonly triggerWaitS?: number
  /** Reads the second input of the same record too; only where `channels` names it. */
  readonly second?: boolean
}

export interface Recording {
  readonly trace: RawTrace
  readonly triggerIndex: number
  /** The second input over the same samples; null where it was not asked for. */
  readonly second: RawTrace | null
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
   * Pulses the rig's trigger output, which closes the contact of an input device and starts an armed record. False where
   * the rig has no such output, so that a hand has to do it.
   */
  pulse(): Promise<boolean>
  /** Whether the rig records a second input along with the first, such as the edge of an input event. */
  hasSecond(signal?: AbortSignal): Promise<boolean>
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

/** Luminance meters and power analysers. */
export interface Meters {
  /** One measurement. Rejects with `invalid-input` for a query that does not measure, else as the rig does. */
  read(meter: Meter, query: string, signal?: AbortSignal): Promise<MeterReading>
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

/** The archive: every operation of its table, answered by its thread. Rejections carry `archive-*`, `not-found`, `conflict` or `worker-died`. */
export type Store = ArchiveOperations & {
  /** Refuses new work, waits for what is under way, closes the file and ends the thread. */
  close(): Promise<void>
}

/** Archives beside the one in use. */
export interface OtherArchives {
  /** Tells one state of the file from another; null where there is none. */
  stamp(path: string): Promise<string | null>
  /** Only to read. Rejects as opening does, and where the archive would have to be made ready first. */
  open(path: string): Promise<Store>
  /** A copy that may be changed, gone when it is discarded. */
  copy(path: string): Promise<{ readonly store: Store; readonly discard: () => Promise<void> }>
}

/** Which archives a person compares with; kept from one start to the next. */
export interface KeptPaths {
  read(): Promise<readonly string[]>
  write(paths: readonly string[]): Promise<void>
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
  /** What the uncertainties of one capture come from; errors as of `measure`. */
  causes(input: MeasureInput, signal?: AbortSignal): Promise<Causes>
  /** Periodic light in a span of one record; `invalid-input` and `internal` come through from the measurement. */
  light(input: LightInput, signal?: AbortSignal): Promise<LightMeasurement>
  /** What a person looks at of whole records. */
  picture<K extends PictureKind>(kind: K, request: PictureRequest<K>, signal?: AbortSignal): Promise<Picture<K>>
  /** Threads at work at the same time. */
  readonly concurrency: number
  close(): Promise<void>
}

/** A piece of a file, and how much of the file is made with it, in the file's own unit. */
export interface FilePiece {
  readonly bytes: Uint8Array
  readonly done: number
}

/** A file made for a person while it is read, so that none has to fit in memory. */
export interface ExportFile {
  /** Proposed name. */
  readonly name: string
  readonly unit: 'rows' | 'bytes'
  /** In that unit; null where only the end tells. */
  readonly total: number | null
  /** Once only. What the file needs is released at its end, and when the reader stops before. */
  pieces(signal?: AbortSignal): AsyncIterable<FilePiece>
}

/** Turns stored data into tables of the documented formats. */
export interface Exporter {
  table(request: TableRequest): Promise<ExportFile>
}

/** What a stimulus does at an input event, and what it can say of it afterwards. */
export interface Reaction {
  /** From the event's own time stamp to the code that reacted, ms: part of the host's share. Null where there is none. */
  readonly handlerMs: number | null
}

/** Heights on the screen, 0 top to 1 bottom: of the patches, and of the sensor, which a simulated display moves there. */
interface PatchHeights {
  readonly patches: readonly number[]
  readonly sensor: number
}

/** A stimulus that changes its level by itself at the next input event, by the shortest way it has. */
export interface ReactingStimulus extends Stimulus {
  prepare(plan: SweepPlan, signal?: AbortSignal, heights?: PatchHeights): Promise<void>
  /**
   * Resolves once the next input event will switch to the level. The answer waits for that event, and rejects with
   * `cancelled` when it is given up.
   */
  react(level: number, signal: AbortSignal): Promise<{ readonly reacted: Promise<Reaction> }>
  /** One still picture, or the mark where the sensor goes; resolves once it is shown. */
  picture(picture: GuidedPicture, signal?: AbortSignal): Promise<void>
  /** Where the sensor of a simulated display is held from now on; a person moves a real one. */
  holdAt(place: SensorPlace): Promise<void>
}

/** Which of the stimulus adapters shows levels. */
export interface StimulusRouter extends ReactingStimulus {
  use(kind: 'simulated' | 'page'): void
  /**
   * The simulated display's own menu. Once used, the display keeps what is set there, whatever a plan says; null lets
   * it follow plans again. `stimulus-absent` without a simulated display.
   */
  simulatedMenu(menu: SimulatedMenu | null): Promise<void>
}

export interface SimulatedMenu {
  readonly setting?: SimSetting | undefined
  readonly refreshHz?: number | undefined
}

/** Makes reports and bundles. */
export interface Publisher {
  /** Elements for figures, outside any browser. */
  readonly figures: FigureHost
  html(document: ReportDocument): string
  /** Rejects with `not-found` where the optional typesetter is not installed. */
  pdf(document: ReportDocument): Promise<Uint8Array>
  /** A figure as PNG, two pixels for one, always the same bytes; null where the optional renderer is not installed. */
  png(svg: string): Promise<Uint8Array | null>
  /** Writes a bundle as a folder that must not exist yet. */
  bundle(
    folder: string,
    subject: BundleSubject,
    captures: AsyncIterable<BundleCapture>,
    extras: readonly BundleExtra[],
    signal?: AbortSignal,
  ): Promise<void>
  /** The same as one zip; `conflict` when it is larger than a zip may be. */
  bundleZip(
    subject: BundleSubject,
    captures: AsyncIterable<BundleCapture>,
    extras: readonly BundleExtra[],
    signal?: AbortSignal,
  ): AsyncIterable<FilePiece>
}
