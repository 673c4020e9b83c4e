/** What the independent generator hands over: records in files, and a manifest of what is true of them. */
import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { z } from 'zod'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import { DEFAULT_RECIPE, recipeSchema } from '#shared/domain/recipe.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { measurePeriodic } from '#shared/measure/periodic.ts'
import { PYTHON } from '../reference/tools.ts'

const GENERATOR = fileURLToPath(new URL('../reference/corpus/generate.py', import.meta.url))

const kindSchema = z.object({
  index: z.int(),
  group: z.string(),
  name: z.string(),
  /** Nothing is wrong with such a record: a flag on it is a false one. */
  sound: z.boolean(),
  truth: z.record(z.string(), z.number().nullable()),
  /** Measures whose true instant lies after the record's end. */
  beyond: z.array(z.string()),
  refreshHz: z.number().nullable(),
})
const jobSchema = z.object({
  kind: z.int(),
  realisation: z.int(),
  /** Realisations of one number are repeats of one cell. */
  cell: z.int(),
  file: z.string(),
  format: z.enum(['int16', 'real32']),
  scaleV: z.number(),
  offsetV: z.number(),
  rangeV: z.number(),
  sampleRateHz: z.number(),
  triggerIndex: z.int(),
  from: z.int(),
  to: z.int(),
  refreshHz: z.number().nullable(),
  periodic: z.boolean(),
  ladder: z
    .object({
      steps: z.array(z.object({ level: z.int(), meanV: z.number(), sdV: z.number(), peakToPeakV: z.number() })),
      darkV: z.number(),
    })
    .nullable(),
  recipe: z.record(z.string(), z.unknown()),
})
const manifestSchema = z.object({
  seed: z.int(),
  numpy: z.string(),
  kinds: z.array(kindSchema),
  jobs: z.array(jobSchema),
})
export type Kind = z.infer<typeof kindSchema>
type Job = z.infer<typeof jobSchema>
export type Manifest = z.infer<typeof manifestSchema>

/** One measure of one record as the program states it. */
export interface Reading {
  readonly value: number | null
  readonly u: number | null
  /** Part of u that repeats share; null where it is not told apart. */
  readonly common: number | null
  readonly reason: string
}

export interface Measured {
  readonly kind: number
  readonly realisation: number
  readonly cell: number
  readonly readings: Readonly<Record<string, Reading>>
  readonly flags: readonly string[]
  /** What the program was given and what it answered, as a cell's statistics take them. */
  readonly from: number
  readonly to: number
}

export interface GeneratorOptions {
  readonly seed: number
  readonly realisations: number
  readonly groups?: readonly string[]
  readonly names?: string
  /** Repeats of a cell; absent where realisations stand alone. */
  readonly cells?: number
}

/** Makes records in a folder of their own, hands them to `use` with their manifest, and removes them. */
export function withRecords<T>(options: GeneratorOptions, use: (manifest: Manifest) => T): T {
  const folder = mkdtempSync(join(tmpdir(), 'slewlight-corpus-'))
  try {
    const args = [GENERATOR, folder, '--seed', String(options.seed), '--realisations', String(options.realisations)]
    if (options.groups) args.push('--groups', options.groups.join(';'))
    if (options.names !== undefined) args.push('--names', options.names)
    if (options.cells !== undefined) args.push('--cells', String(options.cells))
    const run = spawnSync(PYTHON, args, {
      encoding: 'utf8',
      timeout: 1_800_000,
      env: { ...process.env, OPENBLAS_NUM_THREADS: '1', OMP_NUM_THREADS: '1' },
    })
    if (run.status !== 0) throw new Error(`generate.py failed: ${run.stderr}`)
    return use(manifestSchema.parse(JSON.parse(readFileSync(join(folder, 'manifest.json'), 'utf8'))))
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}

export function traceOf(job: Job): MeasureInput['trace'] {
  const bytes = readFileSync(job.file)
  const buffer = bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength)
  const samples = job.format === 'int16' ? new Int16Array(buffer) : new Float32Array(buffer)
  const { format, sampleRateHz, scaleV, offsetV, rangeV } = job
  return { format, samples, sampleRateHz, scaleV, offsetV, rangeV }
}

/** Measures one record as a user of the program would: default recipe but for what the record says, refresh given. */
export function measureRecord(job: Job, kind: Kind): Measured {
  const { realisation, cell, from, to } = job
  const base = { kind: job.kind, realisation, cell, from, to }
  const trace = traceOf(job)
  if (job.periodic) {
    const result = measurePeriodic(trace, { darkV: 0 })
    const stated: Readonly<Partial<Record<string, number>>> =
      'uncertainties' in result ? z.record(z.string(), z.number()).parse(result.uncertainties) : {}
    const readings = Object.fromEntries(
      Object.keys(kind.truth).map((id) => [
        id,
        {
          value: (result.values as Record<string, number | null>)[id] ?? null,
          u: stated[id] ?? null,
          common: null,
          reason: (result.reasons as Record<string, string | undefined>)[id] ?? '',
        },
      ]),
    )
    return { ...base, readings, flags: result.notes }
  }
  const result = measureCapture({
    trace,
    triggerIndex: job.triggerIndex,
    from,
    to,
    refreshHz: job.refreshHz,
    ladder: job.ladder ? { ...job.ladder, takenAt: '2030-01-01T00:00:00.000Z' } : null,
    edgeAtTrigger: true,
    recipe: recipeSchema.parse({ ...DEFAULT_RECIPE, ...job.recipe }),
  })
  const values: Readonly<Record<string, number | null>> = result.values
  const reasons: Readonly<Record<string, string | undefined>> = result.reasons
  const uncertainties: Readonly<Record<string, number | undefined>> = result.uncertainties
  const common: Readonly<Record<string, number | undefined>> = result.common ?? {}
  const readings = Object.fromEntries(
    // Settling stands beside `in_window`, which is judged by it.
    [...new Set([...Object.keys(kind.truth), 'settling_s'])].map((id) => [
      id,
      {
        value: values[id] ?? null,
        u: uncertainties[id] ?? null,
        common: common[id] ?? null,
        reason: reasons[id] ?? '',
      },
    ]),
  )
  return { ...base, readings, flags: result.flags.map((flag) => flag.id) }
}
