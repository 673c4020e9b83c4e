import { z } from 'zod'
import type { GuidedPicture } from './guided.ts'

/** What the host tells the page on the display under test. */
export type StimulusCommand =
  | {
      readonly kind: 'prepare'
      readonly sizePct: number
      readonly surround: number
      readonly level: number
      readonly measureFrames: number
      /** Heights of the patches' middles, 0 top to 1 bottom. */
      readonly rows: readonly number[]
    }
  /** Pre-paint `level` on the hidden layer and swap in the next animation frame. */
  | { readonly kind: 'show'; readonly token: number; readonly level: number }
  /** Pre-paint `level`, say `armed`, and swap in the handler of the next key or pointer event. */
  | { readonly kind: 'react'; readonly token: number; readonly level: number }
  /** The event is not waited for any more. */
  | { readonly kind: 'disarm' }
  /** A still picture over everything else, until anything else is shown; answered with `shown`. */
  | { readonly kind: 'picture'; readonly token: number; readonly picture: GuidedPicture }
  | { readonly kind: 'release' }

/** What the page answers; times are ms of its own clock. */
export const stimulusReportSchema = z.discriminatedUnion('kind', [
  z.strictObject({ kind: z.literal('ready'), fullScreen: z.boolean(), widthPx: z.number(), heightPx: z.number() }),
  z.strictObject({
    kind: z.literal('prepared'),
    medianFrameMs: z.number().positive(),
    spreadMs: z.number().min(0),
    frames: z.int().min(1),
  }),
  z.strictObject({
    kind: z.literal('shown'),
    token: z.int(),
    switchMs: z.number(),
    dropped: z.boolean(),
  }),
  z.strictObject({ kind: z.literal('armed'), token: z.int() }),
  /** `handlerMs`: from the event's time stamp to its handler. */
  z.strictObject({ kind: z.literal('reacted'), token: z.int(), handlerMs: z.number().min(0).max(60_000) }),
])
export type StimulusReport = z.infer<typeof stimulusReportSchema>
