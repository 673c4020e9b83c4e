/** What an evidence bundle holds: everything a stranger needs to measure again and compare. */
import { z } from 'zod'
import type { RawTrace, Verdict } from './capture.ts'
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
