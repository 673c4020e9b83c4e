/** What an evidence bundle holds: everything a stranger needs to measure again and compare. */
import { z } from 'zod'
import type { RawTrace, Verdict } from './capture.ts'
import { latencyPlanSchema, type LatencyEvent, type LatencyRun } from './latency.ts'
import type { Recipe } from './recipe.ts'
import type { Result } from './result.ts'
import type { Override } from './views.ts'

/** A sweep as data/sweeps.json tells it. */
export const bundleSweepSchema = z.strictObject({
  id: z.int(),
  setting: z.string(),
  refreshHz: z.number().positive(),
  /** The rig's trigger marked the light edge. */
  edgeAtTrigger: z.boolean(),
  levels: z.array(z.int()),
  repeats: z.int(),
  /** Planned captures that were given up. */
  missing: z.int().min(0),
  rigIdentity: z.string(),
  createdAt: z.string(),
  ladder: z
    .strictObject({
      steps: z.array(z.strictObject({ level: z.int(), meanV: z.number(), sdV: z.number(), peakToPeakV: z.number() })),
      darkV: z.number().nullable(),
      takenAt: z.string(),
    })
    .nullable(),
})
export type BundleSweep = z.infer<typeof bundleSweepSchema>

/** A capture with its raw trace and what was published of it. */
/** A run of input latency as data/latency.json tells it. */
export const bundleLatencyRunSchema = z.strictObject({
  id: z.int(),
  campaignId: z.int(),
  plan: latencyPlanSchema,
  rigIdentity: z.string(),
  startedAt: z.string(),
  /** The reading made of it, in data/archive.json; null where there is none. */
  readingId: z.int().nullable(),
  /** Its events in the order they were taken, with the hash of each raw record. */
  records: z.array(z.strictObject({ position: z.int(), takenAt: z.string(), sha256: z.string() })),
})
export type BundleLatencyRun = z.infer<typeof bundleLatencyRunSchema>

export interface BundleCapture {
  readonly captureId: number
  readonly sweepId: number
  readonly from: number
  readonly to: number
  readonly repeat: number
  readonly attempt: number
  readonly verdict: Verdict
  readonly takenAt: string
  readonly excluded: boolean
  readonly trace: RawTrace
  readonly triggerIndex: number
  readonly override: Override | null
  /** Null where the capture could not be measured. */
  readonly result: Result | null
}

/** What a bundle is about. */
export interface BundleSubject {
  readonly display: string
  readonly campaign: string
  readonly invented: boolean
  readonly recipe: Recipe
  readonly recipeHash: string
  readonly version: string
  readonly sweeps: readonly BundleSweep[]
  /** Runs of input latency with the raw record of every event; absent where there are none. */
  readonly latency?: { readonly runs: readonly LatencyRun[]; readonly events: AsyncIterable<LatencyEvent> }
}

/** A file made elsewhere that a bundle carries. Paths are relative, with forward slashes. */
export interface BundleExtra {
  readonly path: string
  readonly name: string
  readonly encodingFormat: string
  readonly bytes: Uint8Array
}

export interface VerifyProblem {
  readonly file: string
  /** Which number, in words; empty when it concerns the whole file. */
  readonly place: string
  readonly problem: string
}

export interface VerifyReport {
  /** Captures measured again, and numbers compared; the text of report and figures is compared besides. */
  readonly captures: number
  readonly numbers: number
  readonly problems: readonly VerifyProblem[]
}
