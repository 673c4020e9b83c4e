import { z } from 'zod'
import type { ErrorDetail } from './errors.ts'
import type { Envelope } from './views.ts'

/** How the columns of a recorded CSV are read. */
export const importMappingSchema = z.strictObject({
  delimiter: z.enum([',', ';', '\t', '|', ' ']),
  decimal: z.enum(['.', ',']),
  /** Lines before the first row of numbers. */
  headerLines: z.int().min(0).max(500),
  /** 0-based; null when the file has no time column and the sample interval is given. */
  timeColumn: z.int().min(0).max(200).nullable(),
  /** Seconds per unit of the time column; null while it is not known. */
  timeScaleS: z.number().positive().nullable(),
  voltageColumn: z.int().min(0).max(200),
  voltageScaleV: z.number().positive(),
  sampleIntervalS: z.number().positive().nullable(),
})
export type ImportMapping = z.infer<typeof importMappingSchema>

/** Largest piece of a file in one call, bytes: no message grows with the file or with the number of files. */
export const MAX_STAGED_PIECE_BYTES = 4 * 1024 * 1024

/** Most recordings of one import. */
export const MAX_IMPORT_FILES = 5000

/** One recording of a sweep to be imported. */
export interface ImportFile {
  readonly name: string
  /** Its text, or how to get it when its turn comes. */
  readonly text: string | (() => Promise<string>)
  readonly mapping: ImportMapping
  /** Level pair and repeat number, 1-based. */
  readonly from: number
  readonly to: number
  readonly repeat: number
}

export interface ImportRequest {
  readonly campaignId: number
  readonly setting: string
  readonly refreshHz: number
  readonly files: readonly ImportFile[]
}

export interface ImportPreview {
  readonly mapping: ImportMapping
  readonly columns: readonly { readonly index: number; readonly name: string; readonly sample: readonly string[] }[]
  readonly header: readonly string[]
  readonly sampleCount: number
  /** 0 while the sample interval of a file without time column is not known. */
  readonly sampleRateHz: number
  readonly startS: number
  /** Sample at time 0 of the file where the record spans it, else 0. */
  readonly triggerIndex: number
  readonly minV: number
  readonly maxV: number
  /** The samples for drawing; null when none were asked for or none could be read. */
  readonly envelope: Envelope | null
  /** Level pair read from the file name (two numbers 0–255), if any. */
  readonly guess: { readonly from: number; readonly to: number } | null
  readonly warnings: readonly string[]
  /** Why it cannot be imported this way; the columns are there all the same, so that the mapping can be corrected. */
  readonly problem: ErrorDetail | null
}

export interface ImportProblem {
  /** Place of the file in the request, from 0. */
  readonly position: number
  readonly name: string
  readonly problem: string
  /** What to do about it; may be empty. */
  readonly remedy: string
  /** Stored all the same, but kept out of the matrix. */
  readonly kept: boolean
}

export interface ImportSummary {
  readonly sweepId: number
  /** Recordings stored, and those of them that enter the matrix. */
  readonly captures: number
  readonly good: number
  readonly problems: readonly ImportProblem[]
}

/** What became of an import that runs as a job. */
export interface ImportReport {
  readonly campaignId: number
  /** Recordings asked for. */
  readonly files: number
  /** Null until something is stored. A cancelled or failed import leaves its sweep taken back. */
  readonly sweepId: number | null
  readonly captures: number
  readonly good: number
  readonly problems: readonly ImportProblem[]
}
