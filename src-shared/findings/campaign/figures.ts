import { z } from 'zod'
import type { RecordValue } from '#shared/record/figures.ts'
import { type Estimate, u95Of } from './estimate.ts'
import type { CrosstalkByPlace } from './strobe-places.ts'

export interface FigureInfo {
  readonly label: string
  /** In the middle of a sentence. */
  readonly phrase: string
  readonly unit: 's' | '%'
  readonly better: 'low' | 'high'
}

/** Figures of merit of one sweep, in the order they are told. */
export const FIGURES = {
  duration_mean: { label: 'Mean duration', phrase: 'mean transition duration', unit: 's', better: 'low' },
  duration_worst: { label: 'Worst duration', phrase: 'slowest transition', unit: 's', better: 'low' },
  in_window_share: { label: 'In window', phrase: 'in-window share', unit: '%', better: 'high' },
  overshoot_mean: { label: 'Mean overshoot', phrase: 'mean overshoot', unit: '%', better: 'low' },
  overshoot_worst: { label: 'Worst overshoot', phrase: 'largest overshoot', unit: '%', better: 'low' },
  dark_mean: { label: 'Dark steps', phrase: 'mean duration of dark steps', unit: 's', better: 'low' },
  rise_mean: { label: 'Rise', phrase: 'mean rise', unit: 's', better: 'low' },
  fall_mean: { label: 'Fall', phrase: 'mean fall', unit: 's', better: 'low' },
  first_frame_mean: { label: 'First-frame completion', phrase: 'first-frame completion', unit: '%', better: 'high' },
  blur_edge_mean: { label: 'Blur edge', phrase: 'mean blur edge', unit: 's', better: 'low' },
  crosstalk_mean: { label: 'Strobe crosstalk', phrase: 'mean strobe crosstalk', unit: '%', better: 'low' },
} as const satisfies Record<string, FigureInfo>

export type FigureId = keyof typeof FIGURES
export const FIGURE_IDS = Object.keys(FIGURES) as FigureId[]

/** What was measured at one setting and refresh rate. */
export interface MeasuredPoint {
  readonly sweepId: number
  readonly setting: string
  /** Planned refresh, Hz. */
  readonly refreshHz: number
  /** Null where the sweep has no value of it. */
  readonly figures: Readonly<Record<FigureId, Estimate | null>>
}

/**
 * Ends of the 95 % interval, in the figure's unit; both the value itself where no uncertainty is known. A share of
 * transitions in the window cannot leave 0 to 100 %.
 */
export function intervalOf(id: string, estimate: Estimate): { readonly low: number; readonly high: number } {
  const u95 = u95Of(estimate) ?? 0
  const [low, high] = [estimate.value - u95, estimate.value + u95]
  return id === 'in_window_share' ? { low: Math.max(0, low), high: Math.min(100, high) } : { low, high }
}

export const limitsSchema = z.partialRecord(
  z.enum(FIGURE_IDS as [FigureId, ...FigureId[]]),
  z.strictObject({ bound: z.enum(['at-most', 'at-least']), value: z.number() }),
)
export type Limits = Readonly<z.infer<typeof limitsSchema>>

/** How a campaign is judged: what usable means, and how rates are weighed in a mean over them. */
export const judgementSchema = z.strictObject({ limits: limitsSchema, weighting: z.enum(['equal', 'trapezoid']) })
export type Judgement = Readonly<z.infer<typeof judgementSchema>>

/** Figures of a campaign, and the sweeps that do not enter. */
export interface CampaignPoints {
  readonly points: readonly MeasuredPoint[]
  /** Figures of the display's record beyond the transitions. */
  readonly record: readonly RecordValue[]
  readonly strobe: readonly CrosstalkByPlace[]
  readonly leftOut: readonly { readonly sweepId: number; readonly reason: string }[]
}

/** A choice, not a standard; every screen and report that uses limits names them. */
export const DEFAULT_LIMITS: Limits = {
  in_window_share: { bound: 'at-least', value: 80 },
  overshoot_mean: { bound: 'at-most', value: 5 },
  overshoot_worst: { bound: 'at-most', value: 15 },
}

/** What a campaign is judged by until somebody chooses otherwise. */
export const USUAL_JUDGEMENT: Judgement = { limits: DEFAULT_LIMITS, weighting: 'equal' }
