import type { SweepPlan } from './plan.ts'

/** How raw samples are held: ADC codes or volts, little-endian in memory and in the store. */
export type SampleFormat = 'int16' | 'real32'

/** Immutable samples of one recording. volts = sample × scaleV + offsetV. */
export interface RawTrace {
  readonly format: SampleFormat
  readonly samples: Int16Array | Float32Array
  readonly sampleRateHz: number
  readonly scaleV: number
  readonly offsetV: number
  /** Full scale of the digitizer input, V; clipping is judged against it. */
  readonly rangeV: number
}

/** What the capture chain itself saw go wrong; `good` captures enter the matrix, the others are stored and counted. */
export type Verdict = 'good' | 'dropped-frame' | 'gapped' | 'no-edge'

/** Frame log of the stimulus page around one level change; all times in ms of the page's own clock. */
export interface FrameLog {
  readonly source: 'controller' | 'page'
  /** Median frame interval measured by the stimulus, ms; null when nothing was measured. */
  readonly frameMs: number | null
  /** Timestamp of the frame in which the level was switched, ms. */
  readonly switchMs: number
  readonly dropped: boolean
  /** Host time from sending the bus trigger to the stimulus' answer, s; absent where the light edge was the trigger. */
  readonly sinceTriggerS?: number
}

export interface CaptureInfo {
  readonly id: number
  readonly sweepId: number
  readonly from: number
  readonly to: number
  /** 1-based repeat and attempt. */
  readonly repeat: number
  readonly attempt: number
  /** Place in the sweep's order, 0-based. */
  readonly position: number
  readonly takenAt: string
  readonly verdict: Verdict
  readonly sampleCount: number
  readonly sampleRateHz: number
  /** Index at which the rig placed its trigger; the recorded pre-trigger samples. */
  readonly triggerIndex: number
  /** File name or rig identity the trace came from. */
  readonly source: string
  readonly frameLog: FrameLog | null
}

/** One measured static level of a ladder. */
export interface LadderStep {
  readonly level: number
  readonly meanV: number
  /** Standard deviation of single samples, V. */
  readonly sdV: number
  /** Peak-to-peak within the record, V. */
  readonly peakToPeakV: number
}

export interface Ladder {
  readonly steps: readonly LadderStep[]
  /** Mean with the sensor covered, V; null when it was not measured (the offset is then taken as 0 V). */
  readonly darkV: number | null
  readonly takenAt: string
}

export interface Campaign {
  readonly id: number
  readonly name: string
  /** Display under test, in the operator's words. */
  readonly display: string
  readonly note: string
  readonly createdAt: string
  /** Where its data come from, by its sweeps; null while it has none. Anything `simulated` is invented data. */
  readonly origin: Origin | null
}

/** Where data come from: a rig on a display, a simulated rig, or another instrument's files. */
export type Origin = 'measured' | 'simulated' | 'imported'

export type SweepState = 'ready' | 'ladder' | 'running' | 'paused' | 'finished' | 'stopped' | 'failed'

export interface Sweep {
  readonly id: number
  readonly campaignId: number
  /** The run it belongs to; null for a sweep of its own. */
  readonly runId: number | null
  /** A person's name for it; empty when none was given. */
  readonly name: string
  /** Of the plan. */
  readonly setting: string
  readonly refreshHz: number
  readonly plan: SweepPlan
  readonly state: SweepState
  /** Why it is paused, stopped or failed, in words; empty otherwise. */
  readonly reason: string
  readonly origin: Origin
  readonly createdAt: string
  readonly rigIdentity: string
  readonly ladder: Ladder | null
  /** Captures in the walk and those that are done (good) or given up. */
  readonly total: number
  readonly done: number
  readonly missing: number
  /** Kept whole, but left out of lists until it is restored. */
  readonly hidden: boolean
}
