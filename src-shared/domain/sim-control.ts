/** Control of a simulated rig in another process: one JSON object a line, each answered by one with the same `id`. */
import { z } from 'zod'
import type { FrameLog } from './capture.ts'
import type { ErrorDetail } from './errors.ts'
import { levelSchema } from './plan.ts'
import { SIM_FAULTS, SIM_SETTINGS } from './rig.ts'

const id = z.int().min(0)

/** Where the detector of a simulated display is held, and how its patch differs from grey. */
const simViewSchema = z.strictObject({
  x: z.number().min(0).max(1),
  y: z.number().min(0).max(1),
  degrees: z.number().min(-90).max(90),
  /** Light of the patch over that of a grey of its largest code. */
  share: z.number().min(0).max(1),
})
export type SimView = z.infer<typeof simViewSchema>

export const simControlRequestSchema = z.discriminatedUnion('do', [
  /** Answered with the frame log once the frame that shows the level has begun. */
  z.strictObject({ id, do: z.literal('show'), level: levelSchema }),
  z.strictObject({ id, do: z.literal('refresh'), refreshHz: z.number().min(10).max(1000) }),
  z.strictObject({ id, do: z.literal('setting'), setting: z.enum(SIM_SETTINGS) }),
  z.strictObject({
    id,
    do: z.literal('patch'),
    patch: z.strictObject({ sizePct: z.number().min(1).max(100), surround: levelSchema }),
  }),
  z.strictObject({ id, do: z.literal('fault'), fault: z.enum(SIM_FAULTS) }),
  /** Covers or uncovers the detector. */
  z.strictObject({ id, do: z.literal('cover'), covered: z.boolean() }),
  z.strictObject({ id, do: z.literal('external-trigger') }),
  /** Where the detector is held, 0 top to 1 bottom. */
  z.strictObject({ id, do: z.literal('row'), row: z.number().min(0).max(1) }),
  z.strictObject({ id, do: z.literal('view'), view: simViewSchema }),
  /** The next input event shows the level; answered when it came. */
  z.strictObject({ id, do: z.literal('react'), level: levelSchema }),
  /** An event of the input device: external trigger and reaction. */
  z.strictObject({ id, do: z.literal('input-event') }),
])
export type SimControlRequest = z.infer<typeof simControlRequestSchema>

export const simControlReplySchema = z.discriminatedUnion('ok', [
  z.strictObject({
    id: z.int(),
    ok: z.literal(true),
    frameLog: z
      .strictObject({
        source: z.literal('controller'),
        frameMs: z.number().nullable(),
        switchMs: z.number(),
        dropped: z.boolean(),
      })
      .nullable(),
  }),
  z.strictObject({
    /** −1 when the request could not be read that far. */
    id: z.int(),
    ok: z.literal(false),
    error: z.strictObject({ code: z.string(), message: z.string(), remedy: z.string() }),
  }),
])
export type SimControlReply =
  | { readonly id: number; readonly ok: true; readonly frameLog: FrameLog | null }
  | { readonly id: number; readonly ok: false; readonly error: ErrorDetail }

/** Longest line of either side, characters. */
export const SIM_CONTROL_LINE_LIMIT = 16_384
