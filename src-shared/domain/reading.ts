/** What is known of a display beyond its transition traces: one quantity, measured or read somewhere. */
import { z } from 'zod'

const id = z.int().min(1)

const newReadingFields = z.strictObject({
  campaignId: id,
  /** The sweep it belongs to; null when it concerns the display as a whole. */
  sweepId: id.nullable().default(null),
  /** What sort of reading it is, such as `luminance` or `input-lag`: lower case, words joined by hyphens. */
  kind: z
    .string()
    .max(40)
    .regex(/^[a-z][a-z0-9]*(-[a-z0-9]+)*$/, 'Lower-case words joined by hyphens.'),
  /** What was measured, in words, such as “white, centre”. */
  quantity: z.string().trim().min(1).max(100),
  /** SI or accepted unit as printed; `1` for a ratio. */
  unit: z.string().trim().min(1).max(20),
  /** One number, or a short series in its natural order; never both. */
  value: z.number().nullable().default(null),
  series: z.array(z.number().nullable()).min(1).max(4096).nullable().default(null),
  /** Standard uncertainty in `unit`, of each value of a series; null when none is stated. */
  u: z.number().min(0).max(1e9).nullable().default(null),
  /** Instrument, person or document it comes from. */
  source: z.string().trim().max(200).default(''),
  /** Where on the display, or where it was taken. */
  place: z.string().trim().max(200).default(''),
  note: z.string().trim().max(2000).default(''),
  /** What the display was set to; null where its sweep says it, or it is of no one setting. */
  setting: z.string().trim().min(1).max(60).nullable().default(null),
  refreshHz: z.number().min(1).max(10_000).nullable().default(null),
  /** When it was taken, ISO 8601. */
  at: z.iso.datetime({ offset: true }),
})

const oneOrSeries = (reading: { readonly value: number | null; readonly series: readonly (number | null)[] | null }) =>
  (reading.value === null) !== (reading.series === null)
const ONE_OR_SERIES = { path: ['value'], message: 'A reading is one value or a series.' }

export const newReadingSchema = newReadingFields.refine(oneOrSeries, ONE_OR_SERIES)
/** A reading as it was stored, from a file that holds it. */
export const storedReadingSchema = newReadingFields
  .extend({ id, addedAt: z.string(), hidden: z.boolean() })
  .refine(oneOrSeries, ONE_OR_SERIES)
export type NewReading = z.infer<typeof newReadingSchema>

export interface Reading extends NewReading {
  readonly id: number
  /** When it was entered, ISO 8601 UTC. */
  readonly addedAt: string
  /** Taken out of the lists; kept whole and can be restored. */
  readonly hidden: boolean
}
