import type { RawTrace, Verdict } from '#shared/domain/capture.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { Result } from '#shared/domain/result.ts'
import type { Override } from '#shared/domain/views.ts'
import type { BundleSweep } from './schemas.ts'

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
  readonly note: string
  readonly invented: boolean
  readonly recipe: Recipe
  readonly recipeHash: string
  readonly algorithm: string
  readonly version: string
  /** Day of the last capture, ISO 8601: never the clock, so that a bundle can be made again byte for byte. */
  readonly publishedAt: string
  readonly license: string
  readonly sweeps: readonly BundleSweep[]
}
