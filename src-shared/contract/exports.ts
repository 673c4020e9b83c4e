/** What can be saved as a file, and how a file comes: its name first, then its bytes piece by piece. */
import { z } from 'zod'
import { REPORT_CHAPTERS } from '#shared/domain/report-chapters.ts'
import { measureIdSchema } from '#shared/domain/views.ts'
import { limitsSchema } from '#shared/findings/campaign/figures.ts'

const id = z.int().min(1)
const recipeHash = z.string().regex(/^[0-9a-f]{16}$/)
/** A campaign with the limits and the weighting it is judged by. */
const judged = {
  campaignId: id,
  limits: limitsSchema,
  weighting: z.enum(['equal', 'trapezoid']),
}

const tableSchemas = [
  z.strictObject({
    what: z.literal('matrix'),
    sweepId: id,
    recipeHash,
    /** All when absent. */
    measures: z.array(measureIdSchema).min(1).max(32).optional(),
  }),
  z.strictObject({ what: z.literal('captures'), sweepId: id, recipeHash }),
  z.strictObject({ what: z.literal('trace'), captureId: id }),
] as const
export type TableRequest = z.infer<(typeof tableSchemas)[number]>

export const exportRequestSchema = z.discriminatedUnion('what', [
  ...tableSchemas,
  /** Under the recipe in use; `not-found` where PDF cannot be made. */
  z.strictObject({
    what: z.literal('report'),
    form: z.enum(['html', 'pdf']),
    /** All when absent. */
    chapters: z.array(z.enum(REPORT_CHAPTERS)).max(REPORT_CHAPTERS.length).optional(),
    ...judged,
  }),
  /** An evidence bundle as a zip, under the recipe in use. */
  z.strictObject({ what: z.literal('bundle'), ...judged }),
])
export type ExportRequest = z.infer<typeof exportRequestSchema>

/** One step of a file on its way: the first has its name, every other one a piece of it. */
export type ExportStep =
  | { readonly kind: 'file'; readonly name: string }
  | { readonly kind: 'piece'; readonly bytes: Uint8Array }
