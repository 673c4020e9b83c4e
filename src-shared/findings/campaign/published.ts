/** Findings as a bundle publishes them: everything a stranger needs to draw them again. */
import { z } from 'zod'
import { bundleSweepSchema, type BundleSweep } from '#shared/domain/bundle.ts'
import { type Recipe, recipeSchema } from '#shared/domain/recipe.ts'
import {
  RECORD_FIGURE_IDS,
  recordFigureInfo,
  type RecordFigureId,
  type RecordFigureInfo,
  type RecordValue,
} from '#shared/record/figures.ts'
import { answer } from './answer.ts'
import { type Estimate, u95Of } from './estimate.ts'
import { FIGURE_IDS, type FigureId, type Limits, limitsSchema, type MeasuredPoint } from './figures.ts'
import { sentences } from './sentences.ts'
import type { CrosstalkByPlace } from './strobe-places.ts'
import { strobeSentences } from './strobe-sentences.ts'

const figureId = z.enum(FIGURE_IDS as [FigureId, ...FigureId[]])
const verdict = z.enum(['usable', 'not-usable', 'cannot-tell'])
const weighting = z.enum(['equal', 'trapezoid'])

const estimateSchema = z
  .strictObject({
    value: z.number().describe('In s, or in percent.'),
    u: z.number().min(0).nullable().describe('Standard uncertainty of what is its own; null when none can be stated.'),
    dof: z.number().min(0).describe('Degrees of freedom of u; 1e9 when it is known well.'),
    shared: z.number().min(0).describe('Standard uncertainty of what all figures of the campaign share.'),
    u95: z.number().min(0).nullable().describe('Half width of the 95 % interval, everything together.'),
  })
  .describe('A figure of one sweep.')

const recordValueSchema = z.strictObject({
  figure: z.enum(RECORD_FIGURE_IDS as [RecordFigureId, ...RecordFigureId[]]),
  label: z.string(),
  unit: z.string().describe('1 for a pure number.'),
  better: z.enum(['low', 'high']).nullable().describe('Which end is good; null where neither is.'),
  derived: z.string().describe('How it is derived, and what its uncertainty holds.'),
  estimate: estimateSchema.describe('In the unit named beside it.'),
  atLeast: z.boolean().describe('True where the value is only a lower bound.'),
  conditions: z.record(z.string(), z.union([z.string(), z.number()])).describe('What it was measured under.'),
  readingIds: z.array(z.int()).describe('Readings it is made of, in data/archive.json.'),
})

const nullableEstimate = estimateSchema.nullable()
const figuresSchema = Object.fromEntries(FIGURE_IDS.map((id) => [id, nullableEstimate])) as Record<
  FigureId,
  typeof nullableEstimate
>

export const publishedFindingsSchema = z
  .strictObject({
    version: z.string().describe('Version of the program that made it.'),
    algorithm: z.string().describe('Version of the measuring code.'),
    display: z.string(),
    campaign: z.string(),
    note: z.string(),
    invented: z.boolean().describe('True for anything from a simulated rig.'),
    recipe: recipeSchema,
    recipeHash: z.string().regex(/^[0-9a-f]{16}$/),
    limits: limitsSchema.describe('What usable means. A choice, not a standard. Times in s.'),
    weighting: weighting.describe('How rates are weighed in a mean over them.'),
    pixelsPerS: z.number().positive().describe('Speed of the computed moving edge, px/s.'),
    sweeps: z.array(bundleSweepSchema),
    points: z.array(
      z.strictObject({
        sweepId: z.int(),
        setting: z.string(),
        refreshHz: z.number().positive(),
        verdict: verdict.describe('Under all limits together.'),
        figures: z.strictObject(figuresSchema),
      }),
    ),
    ranges: z.array(
      z.strictObject({
        setting: z.string(),
        wholeRange: verdict,
        spans: z.array(z.strictObject({ fromHz: z.number(), toHz: z.number(), rates: z.int() })),
        missingHz: z.array(z.number()),
      }),
    ),
    record: z.array(recordValueSchema).describe('Latency, light, colour and power of the display.'),
    strobe: z
      .array(
        z.strictObject({
          setting: z.string(),
          refreshHz: z.number().positive(),
          places: z.array(
            z.strictObject({
              place: z.enum(['top', 'centre', 'bottom']),
              rise: nullableEstimate.describe('Of a brightening step, signed, percent.'),
              fall: nullableEstimate.describe('Of a darkening step, signed, percent.'),
            }),
          ),
          worst: z
            .strictObject({
              place: z.enum(['top', 'centre', 'bottom']),
              step: z.enum(['rise', 'fall']),
              shown: z.boolean().describe('Whether it is larger than at every other place at 5 %, over all of them.'),
            })
            .nullable()
            .describe('Where crosstalk is largest by size.'),
          readingIds: z.array(z.int()),
        }),
      )
      .describe('Strobe crosstalk by place on the screen.'),
    sentences: z.array(z.strictObject({ text: z.string(), sweepIds: z.array(z.int()), figures: z.array(figureId) })),
  })
  .describe('Findings of a campaign.')
export type PublishedFindings = z.infer<typeof publishedFindingsSchema>

export interface FindingsSubject {
  readonly version: string
  readonly algorithm: string
  readonly display: string
  readonly campaign: string
  readonly note: string
  readonly invented: boolean
  readonly recipe: Recipe
  readonly recipeHash: string
  readonly limits: Limits
  readonly weighting: z.infer<typeof weighting>
  readonly pixelsPerS: number
  readonly sweeps: readonly BundleSweep[]
}

/** Significant digits of the figures: fewer than a computer's, so that every computer rounds to the same. */
export const PUBLISHED_DIGITS = 12
const rounded = (numbers: Readonly<Record<string, number | null>>): Record<string, number | null> =>
  Object.fromEntries(
    Object.entries(numbers).map(([key, value]) => [
      key,
      value === null ? null : Number(value.toPrecision(PUBLISHED_DIGITS)),
    ]),
  )

const published = (estimate: Estimate | null): Record<string, number | null> | null =>
  estimate === null ? null : rounded({ ...estimate, u95: u95Of(estimate) })

/** The same subject, points, record and strobing give the same findings. */
export function publishedFindings(
  subject: FindingsSubject,
  points: readonly MeasuredPoint[],
  record: readonly RecordValue[],
  strobe: readonly CrosstalkByPlace[],
): PublishedFindings {
  const found = answer(points, subject.limits, subject.weighting)
  const judged = found.ranges.flatMap((range) => range.points)
  // Plain data all through: what is written is what is compared.
  return publishedFindingsSchema.parse({
    ...subject,
    points: points.map((point) => ({
      ...point,
      verdict: judged.find((one) => one.point === point)?.verdict,
      figures: Object.fromEntries(
        FIGURE_IDS.map((id) => {
          return [id, published(point.figures[id])]
        }),
      ),
    })),
    ranges: found.ranges.map(({ setting, wholeRange, spans, missingHz }) => ({
      setting,
      wholeRange,
      spans,
      missingHz,
    })),
    record: record.map(({ estimate, ...value }) => ({
      ...value,
      ...pick(recordFigureInfo(value.figure)),
      estimate: published(estimate),
    })),
    strobe: strobe.map((one) => ({
      ...one,
      places: one.places.map(({ place, rise, fall }) => ({ place, rise: published(rise), fall: published(fall) })),
    })),
    sentences: [...sentences(found, subject.limits), ...strobeSentences(strobe, points)].map(
      ({ text, sweepIds, figures }) => ({ text, sweepIds, figures }),
    ),
  })
}

const pick = ({ label, unit, better, derived }: RecordFigureInfo) => ({ label, unit, better, derived })

/** JSON Schema (draft 2020-12) of the findings, as published beside them. */
export const findingsJsonSchema = (): unknown => z.toJSONSchema(publishedFindingsSchema)
