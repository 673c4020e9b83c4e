/** Guided sequences: a list of places, angles or pictures a person works through, each read once and stored at once. */
import { z } from 'zod'
import { meterSchema } from './meter.ts'
import { levelSchema } from './plan.ts'

export const SEQUENCES = {
  uniformity: 'Uniformity',
  strobing: 'Strobing by place',
  flicker: 'Flicker by brightness',
  angle: 'Luminance over viewing angle',
  ladder: 'Luminance ladder',
  'white-over-time': 'White over time',
  colour: 'Colour patches',
} as const
export type SequenceId = keyof typeof SEQUENCES
export const SEQUENCE_IDS = Object.keys(SEQUENCES) as [SequenceId, ...SequenceId[]]

/** `typed`: read off an instrument by a person. `file`: the instrument keeps its own values, which are imported later. */
export const READ_BY = ['photodiode', 'meter', 'typed', 'file'] as const
export type ReadBy = (typeof READ_BY)[number]

/** Ways of reading that each sequence has; the first is offered. */
export const WAYS: Readonly<Record<SequenceId, readonly ReadBy[]>> = {
  uniformity: ['photodiode', 'meter', 'typed'],
  strobing: ['photodiode'],
  flicker: ['photodiode'],
  angle: ['meter', 'photodiode', 'typed'],
  ladder: ['meter', 'photodiode', 'typed'],
  'white-over-time': ['photodiode', 'meter'],
  colour: ['file', 'typed', 'meter'],
}

const rgbSchema = z.tuple([levelSchema, levelSchema, levelSchema])
export type Rgb = z.infer<typeof rgbSchema>
/** Most patches of one sequence: three codes each have to fit in a reading. */
export const MAX_PATCHES = 1000

export const guidedPlanSchema = z
  .strictObject({
    sequence: z.enum(SEQUENCE_IDS),
    by: z.enum(READ_BY),
    meter: meterSchema.nullable().default(null),
    query: z.string().max(100).default('MEAS?'),
    /** Standard uncertainty of what a meter or a person says, in its unit; null when none is stated. */
    u: z.number().min(0).max(1e6).nullable().default(null),
    /** Instrument, where nothing says it by itself. */
    source: z.string().trim().max(120).default(''),
    setting: z.string().trim().min(1).max(60).default('Off'),
    refreshHz: z.number().min(10).max(1000).default(60),
    rangeV: z.number().min(0.001).max(100).default(5),
    /** Uniformity: 3 × 3 or 5 × 5. */
    places: z.union([z.literal(9), z.literal(25)]).default(9),
    /** Strobing: levels of the step whose crosstalk is read. */
    from: levelSchema.default(0),
    to: levelSchema.default(255),
    /** Strobing: steps in each direction whose crosstalk is averaged. */
    repeats: z.int().min(1).max(50).default(4),
    /** Strobing: the display’s frame signal is at the rig’s trigger input, so that the phase counts from it. */
    frameSignal: z.boolean().default(false),
    /** Flicker: the display’s brightness settings, as its menu calls them. */
    brightness: z.array(z.string().trim().min(1).max(30)).min(1).max(12).default(['100 %', '50 %', '0 %']),
    axis: z.enum(['horizontal', 'vertical']).default('horizontal'),
    /** Degrees from the normal; negative to the left or down. 0 is always among them. */
    angles: z.array(z.number().min(-85).max(85)).min(1).max(40).default([0, 15, 30, 45, 60, -15, -30, -45, -60]),
    codes: z
      .array(levelSchema)
      .min(2)
      .max(64)
      .default([0, 15, 30, 45, 60, 75, 90, 105, 120, 135, 150, 165, 180, 195, 210, 225, 240, 255]),
    minutes: z.number().min(0.5).max(240).default(30),
    everyMinutes: z.number().min(0.05).max(60).default(1),
    /** Colour: the patches in the order the file wants them; the list built in when empty. */
    patches: z.array(rgbSchema).max(MAX_PATCHES).default([]),
    /** What was measured, such as “After calibration”; the sequence's own name when empty. */
    label: z.string().trim().max(100).default(''),
    /** Left to settle between showing and reading, s. */
    settleS: z.number().min(0.35).max(60).default(1),
    patch: z
      .strictObject({ sizePct: z.number().min(1).max(100), surround: levelSchema })
      .default({ sizePct: 20, surround: 0 }),
  })
  .superRefine((plan, context) => {
    if (!WAYS[plan.sequence].includes(plan.by))
      context.addIssue({ code: 'custom', path: ['by'], message: `${SEQUENCES[plan.sequence]} is not read that way.` })
    if (plan.by === 'meter' && plan.meter === null)
      context.addIssue({ code: 'custom', path: ['meter'], message: 'Say where the meter is.' })
    if (plan.sequence === 'strobing' && plan.from === plan.to)
      context.addIssue({ code: 'custom', path: ['to'], message: 'The light has to change.' })
  })
export type GuidedPlan = z.infer<typeof guidedPlanSchema>

/** What the stimulus shows: one patch somewhere, or the mark where the sensor goes. x, y: 0 left, top to 1 right, bottom. */
export interface GuidedPicture {
  readonly x: number
  readonly y: number
  readonly rgb: Rgb
  /** Edge of the patch, percent of the screen's height; 100 fills the screen. */
  readonly sizePct: number
  readonly surround: number
  readonly mark: boolean
}

/** Where a simulated sensor is held for a step. */
export interface SensorPlace {
  readonly x: number
  readonly y: number
  /** From the normal, to the right or up. */
  readonly degrees: number
}

/** What a person says: `next` done as asked, `accept` the value shown, `typed` what an instrument shows. */
export const guidedAnswerSchema = z.discriminatedUnion('kind', [
  z.strictObject({ kind: z.enum(['next', 'accept', 'again', 'skip', 'back']) }),
  z.strictObject({ kind: z.literal('typed'), values: z.array(z.number()).min(1).max(3) }),
])
export type GuidedAnswer = z.infer<typeof guidedAnswerSchema>
export type GuidedAnswerKind = GuidedAnswer['kind']

export interface GuidedValue {
  readonly quantity: string
  readonly unit: string
  readonly value: number
  /** Standard uncertainty; null when none is stated. */
  readonly u: number | null
}

/** `moving`: a person moves something. `may-read`: the instrument may read. `judging`: the value is looked at. */
export type GuidedPhase = 'moving' | 'settling' | 'may-read' | 'reading' | 'judging' | 'failed'

/** A sequence at work. */
export interface GuidedProgress {
  readonly jobId: string
  readonly sequenceId: number
  readonly campaignId: number
  readonly sequence: SequenceId
  readonly phase: GuidedPhase
  /** Place of the step at work, from 0; what is known of each step. */
  readonly index: number
  readonly steps: readonly {
    readonly place: string
    /** On the screen: 0 left, top to 1 right, bottom. */
    readonly at: { readonly x: number; readonly y: number }
    readonly state: 'open' | 'taken' | 'skipped'
  }[]
  /** Read from two metres. */
  readonly instruction: string
  readonly detail: string
  readonly answers: readonly GuidedAnswerKind[]
  /** What is to be typed; empty where nothing is. */
  readonly fields: readonly { readonly quantity: string; readonly unit: string }[]
  readonly values: readonly GuidedValue[]
  /** What is to be known of these values, such as why one is missing; stored with them. */
  readonly note: string
  /** Why the last reading did not come; empty otherwise. */
  readonly problem: string
  /** Estimate, s; null before anything is known. */
  readonly leftS: number | null
}

/** A sequence that was begun and is not finished. */
export interface OpenSequence {
  readonly sequenceId: number
  readonly plan: GuidedPlan
  readonly taken: number
  readonly total: number
  readonly begunAt: string
}

/** What comes of a sequence, or has so far. */
export interface GuidedOutcome {
  readonly sequenceId: number
  readonly taken: number
  readonly total: number
  /** The reading made of all of them; null where there is none (yet). */
  readonly readingId: number | null
}
