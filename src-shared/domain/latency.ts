/** A run of input latency: what it does, and what is kept of every event. */
import { z } from 'zod'
import type { RawTrace } from './capture.ts'
import { levelSchema } from './plan.ts'
import { MAX_SERIES, RECORD_KINDS } from './record-kinds.ts'

/** Heights of the patches, 0 top to 1 bottom. */
export const REACTIONS = { one: [0.5], three: [0.05, 0.5, 0.95] } as const
export type Reaction = keyof typeof REACTIONS
/** Display, reference, display. */
export const LATENCY_BLOCKS = ['first', 'reference', 'last'] as const
/** As many as one reading holds. */
export const MAX_EVENTS = Math.floor(MAX_SERIES / RECORD_KINDS['input-latency-run'].columns.length)

export const latencyPlanSchema = z
  .strictObject({
    refreshHz: z.number().min(10).max(1000),
    events: z.int().min(2).max(MAX_EVENTS).default(100),
    from: levelSchema.default(0),
    to: levelSchema.default(255),
    /** One patch in the middle, or three at top, centre and bottom. */
    reaction: z.enum(['one', 'three']).default('one'),
    /** Height the sensor looks at. */
    row: z.number().min(0).max(1).default(0.5),
    /** A run on a reference display or a light at the host's output. */
    reference: z.boolean().default(false),
    /**
     * Display, reference, display in one go: what drifts evenly in the host's share cancels in the difference, and the two
     * runs on the display show how much. As many events on the reference as on the display.
     */
    interleave: z.boolean().default(false),
    /** Set by the program: which of those runs this is. */
    block: z.enum(LATENCY_BLOCKS).optional(),
    /** Whose hand is on the input: the rig's trigger output, or a person's. */
    press: z.enum(['rig', 'person']).default('rig'),
    patch: z
      .strictObject({ sizePct: z.number().min(1).max(100), surround: levelSchema })
      .default({ sizePct: 10, surround: 0 }),
    sampleRateHz: z.number().min(1000).max(1_000_000).default(20_000),
    rangeV: z.number().min(0.001).max(100).default(5),
    /** Recorded before and after the event, s. */
    beforeS: z.number().min(0.002).max(1).default(0.02),
    afterS: z.number().min(0.02).max(5).default(0.25),
    /** What shows the event's edge: the rig's second channel where it has one (`auto`), or the start of the record. */
    event: z.enum(['auto', 'trigger', 'channel-2']).default('auto'),
    seed: z.int().min(0).max(0xffffffff).default(1),
    /** What is measured, in words; the kind's label when empty. */
    note: z.string().trim().max(200).default(''),
  })
  .refine(({ from, to }) => from !== to, { path: ['to'], message: 'The light has to change.' })
export type LatencyPlan = z.infer<typeof latencyPlanSchema>

export interface NewLatencyRun {
  readonly campaignId: number
  readonly plan: LatencyPlan
  readonly rigIdentity: string
}

export interface LatencyRun extends NewLatencyRun {
  readonly id: number
  readonly startedAt: string
  readonly events: number
  /** The reading made of it; null until it has ended. */
  readonly readingId: number | null
}

/** The raw record of one event. */
export interface LatencyEvent {
  readonly runId: number
  /** From 1, in the order they were taken. */
  readonly position: number
  readonly takenAt: string
  readonly trace: RawTrace
  /** Sample of the edge that started the record: the event's, where there is no second channel. */
  readonly triggerIndex: number
  /** The rig's second channel over the same samples, which carries the event; null where the rig has one channel. */
  readonly second: RawTrace | null
  /** From the event's time stamp to the page's handler, ms: at least this much is the host's. Null where no page reacted. */
  readonly handlerMs: number | null
}

/** What comes of a run, or has so far. */
export interface LatencyOutcome {
  readonly runId: number | null
  readonly taken: number
  /** Events whose record shows no clear light step, and why the last of them did not. */
  readonly unclear: number
  readonly lastProblem: string
  readonly readingId: number | null
}
