/** What a campaign's report is made of. */
import type { DisplayRecord } from '#shared/record/record.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { Limits, MeasuredPoint } from '#shared/findings/campaign/figures.ts'
import type { Weighting } from '#shared/findings/campaign/over-refresh.ts'
import type { CellStatistics } from '#shared/findings/matrix.ts'
import type { EdgeSet } from '#shared/findings/campaign/moving-edge.ts'
import type { TraceFigureMark } from '#shared/figures/trace.ts'

/** A matrix of one sweep: transition durations, s. */
interface ReportMatrix {
  readonly sweepId: number
  readonly setting: string
  readonly refreshHz: number
  readonly cells: readonly CellStatistics[]
}

export interface ReportTrace {
  readonly captureId: number
  readonly setting: string
  readonly refreshHz: number
  readonly from: number
  readonly to: number
  readonly durationS: number
  readonly u95S: number | null
  readonly envelope: readonly { readonly timeMs: number; readonly lowPct: number; readonly highPct: number }[]
  readonly marks: readonly TraceFigureMark[]
}

/** Edges of all settings at one refresh rate and speed. */
export interface ReportEdges extends EdgeSet {
  readonly pixelsPerS: number
}

/** What a campaign's report is made of. */
export interface CampaignReportInput {
  readonly display: string
  readonly campaign: string
  readonly note: string
  /** True for anything a simulated rig made. */
  readonly invented: boolean
  readonly points: readonly MeasuredPoint[]
  readonly limits: Limits
  readonly weighting: Weighting
  readonly matrices: readonly ReportMatrix[]
  readonly worst: readonly ReportTrace[]
  readonly edges: readonly ReportEdges[]
  /** What is known beyond the transitions. */
  readonly record: DisplayRecord
  readonly recipe: Recipe
  readonly recipeHash: string
  readonly algorithm: string
  readonly version: string
  readonly counts: {
    readonly captures: number
    readonly flagged: number
    readonly excluded: number
    readonly missing: number
  }
  readonly rigs: readonly string[]
  /** Sweeps whose white is off that of the first, in sentences. */
  readonly drifts: readonly string[]
  /** First and last capture, ISO 8601; null when there is none. */
  readonly takenFrom: string | null
  readonly takenTo: string | null
}
