import { z } from 'zod'

/** How the columns of a recorded CSV are read. */
export const importMappingSchema = z.strictObject({
  delimiter: z.enum([',', ';', '\t', '|', ' ']),
  decimal: z.enum(['.', ',']),
  /** Lines before the first row of numbers. */
  headerLines: z.int().min(0).max(500),
  /** 0-based; null when the file has no time column and the sample interval is given. */
  timeColumn: z.int().min(0).max(200).nullable(),
  timeScaleS: z.number().positive(),
  voltageColumn: z.int().min(0).max(200),
  voltageScaleV: z.number().positive(),
  sampleIntervalS: z.number().positive().nullable(),
})
export type ImportMapping = z.infer<typeof importMappingSchema>

export interface ImportPreview {
  readonly mapping: ImportMapping
  readonly columns: readonly { readonly index: number; readonly name: string; readonly sample: readonly string[] }[]
  readonly header: readonly string[]
  readonly sampleCount: number
  readonly sampleRateHz: number
  readonly startS: number
  readonly minV: number
  readonly maxV: number
  /** Level pair read from the file name (two numbers 0–255), if any. */
  readonly guess: { readonly from: number; readonly to: number } | null
  readonly warnings: readonly string[]
}

export interface ImportSummary {
  readonly sweepId: number
  readonly captures: number
  readonly problems: readonly { readonly name: string; readonly problem: string }[]
}
