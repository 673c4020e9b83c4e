import { readFile } from 'node:fs/promises'
import { join } from 'node:path'
import { parse } from 'csv-parse/sync'
import { asyncBufferFromFile, parquetMetadataAsync, parquetReadObjects } from 'hyparquet'
import { z } from 'zod'
import { bundleSweepSchema, type VerifyProblem, type VerifyReport } from '#shared/domain/bundle.ts'
import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import { MEASURE_IDS } from '#shared/domain/measures.ts'
import { recipeHash, recipeSchema } from '#shared/domain/recipe.ts'
import type { Result } from '#shared/domain/result.ts'
import { overrideSchema } from '#shared/domain/views.ts'
import { checkManifest, MANIFEST } from './manifest.ts'
import { csvText, RESULT_COLUMNS } from './tables.ts'

export interface VerifyOptions {
  readonly measure: (input: MeasureInput) => Promise<Result>
  readonly onProgress?: (done: number, total: number) => void
  readonly signal?: AbortSignal
}

/**
 * Two programs of the same version may differ in the last digits, since elementary functions differ between runtimes;
 * anything more is another number.
 */
const RELATIVE = 1e-9
/** Problems listed before the rest is only counted. */
const MOST = 200

const resultRowSchema = z.record(z.string(), z.unknown())
const traceRowSchema = z.object({
  capture_id: z.number(),
  sample_rate_hz: z.number().positive(),
  scale_v: z.number(),
  offset_v: z.number(),
  range_v: z.number().positive(),
  trigger_index: z.number(),
  marks_by_hand: z.string().nullish(),
  codes: z.array(z.number()).nullish(),
  volts: z.array(z.number()).nullish(),
})

const num = (row: Readonly<Record<string, unknown>>, key: string): number => z.number().parse(row[key])

/**
 * Measures every raw trace of a bundle again and compares each published number. Rejects only when the bundle cannot be
 * read at all (`import-unreadable`) or the caller stopped it (`cancelled`); everything else is a problem of the report.
 */
export async function verifyFolder(folder: string, options: VerifyOptions): Promise<VerifyReport> {
  const problems: VerifyProblem[] = []
  const add = (file: string, place: string, problem: string): void => {
    if (problems.length < MOST) problems.push({ file, place, problem })
  }
  for (const { file, problem } of await checkManifest(folder, await textOf(folder, MANIFEST))) add(file, '', problem)

  const recipe = await attempt(add, 'recipe.json', async () =>
    recipeSchema.parse(JSON.parse(await textOf(folder, 'recipe.json'))),
  )
  const sweeps = await attempt(add, 'data/sweeps.json', async () =>
    z.array(bundleSweepSchema).parse(JSON.parse(await textOf(folder, 'data/sweeps.json'))),
  )
  const published = await attempt(add, 'data/results.parquet', () => rowsOf(folder, 'data/results.parquet'))
  if (recipe === null || sweeps === null || published === null) return { captures: 0, numbers: 0, problems }

  let numbers = await compareCsv(folder, published, add)
  const sweepById = new Map(sweeps.map((sweep) => [sweep.id, sweep]))
  const rowById = await attempt(
    add,
    'data/results.parquet',
    async () => new Map(published.map((row) => [num(row, 'capture_id'), row])),
  )
  if (rowById === null) return { captures: 0, numbers, problems }
  const seen = new Set<number>()
  const hash = recipeHash(recipe)
  let captures = 0
  await attempt(add, 'data/traces.parquet', async () => {
    for await (const trace of tracesOf(folder)) {
      options.signal?.throwIfAborted()
      const row = rowById.get(trace.capture_id)
      const place = `capture ${trace.capture_id}`
      if (row === undefined || seen.has(trace.capture_id)) {
        add('data/traces.parquet', place, 'It has no row of its own in the results.')
        continue
      }
      seen.add(trace.capture_id)
      const sweep = sweepById.get(num(row, 'sweep_id'))
      if (sweep === undefined) {
        add('data/results.parquet', place, 'Its sweep is not in data/sweeps.json.')
        continue
      }
      try {
        const result = await options.measure({
          trace: {
            format: trace.codes == null ? 'real32' : 'int16',
            samples: trace.codes == null ? Float32Array.from(trace.volts ?? []) : Int16Array.from(trace.codes),
            sampleRateHz: trace.sample_rate_hz,
            scaleV: trace.scale_v,
            offsetV: trace.offset_v,
            rangeV: trace.range_v,
          },
          triggerIndex: trace.trigger_index,
          from: num(row, 'from_code'),
          to: num(row, 'to_code'),
          refreshHz: sweep.refreshHz,
          ladder: sweep.ladder,
          edgeAtTrigger: sweep.edgeAtTrigger && trace.trigger_index > 0,
          recipe,
          override: trace.marks_by_hand == null ? null : overrideSchema.parse(JSON.parse(trace.marks_by_hand)),
        })
        if (result.recipeHash !== hash) throw new AppError('internal', 'it was measured under another recipe')
        numbers += compareResult(row, result, place, add)
      } catch (error) {
        add('data/traces.parquet', place, `It cannot be measured: ${toErrorDetail(error).message}`)
      }
      captures += 1
      options.onProgress?.(captures, rowById.size)
    }
    return true
  })
  for (const id of rowById.keys())
    if (!seen.has(id)) add('data/results.parquet', `capture ${id}`, 'Its trace is missing.')
  return { captures, numbers, problems }
}

type Add = (file: string, place: string, problem: string) => void

async function attempt<T>(add: Add, file: string, read: () => Promise<T>): Promise<T | null> {
  try {
    return await read()
  } catch (error) {
    if (error instanceof Error && error.name === 'AbortError') throw new AppError('cancelled', 'Stopped.')
    add(
      file,
      '',
      `It cannot be read: ${error instanceof z.ZodError ? z.prettifyError(error) : toErrorDetail(error).message}`,
    )
    return null
  }
}

async function textOf(folder: string, path: string): Promise<string> {
  try {
    return await readFile(join(folder, path), 'utf8')
  } catch (error) {
    throw new AppError(
      'import-unreadable',
      `${path} cannot be read: ${toErrorDetail(error).message}`,
      'Choose the folder or zip of a bundle.',
    )
  }
}

async function rowsOf(folder: string, path: string): Promise<Record<string, unknown>[]> {
  const file = await asyncBufferFromFile(join(folder, path))
  return z.array(resultRowSchema).parse(await parquetReadObjects({ file }))
}

async function* tracesOf(folder: string): AsyncGenerator<z.infer<typeof traceRowSchema>> {
  const file = await asyncBufferFromFile(join(folder, 'data/traces.parquet'))
  const metadata = await parquetMetadataAsync(file)
  let rowStart = 0
  for (const group of metadata.row_groups) {
    const rowEnd = rowStart + Number(group.num_rows)
    for (const row of await parquetReadObjects({ file, metadata, rowStart, rowEnd })) yield traceRowSchema.parse(row)
    rowStart = rowEnd
  }
}

const same = (a: number, b: number): boolean =>
  a === b || Math.abs(a - b) <= RELATIVE * Math.max(Math.abs(a), Math.abs(b))

function compareResult(row: Readonly<Record<string, unknown>>, result: Result, place: string, add: Add): number {
  let numbers = 0
  for (const id of MEASURE_IDS) {
    for (const [key, measured] of [
      [id, result.values[id]],
      [`u_${id}`, result.uncertainties[id] ?? null],
    ] as const) {
      const published = row[key] ?? null
      numbers += 1
      const agrees =
        typeof published === 'number' && typeof measured === 'number'
          ? same(published, measured)
          : published === measured
      if (!agrees)
        add(
          'data/results.parquet',
          `${place}, ${key}`,
          `Published ${csvText(published) || 'nothing'}, measured again ${csvText(measured) || 'nothing'}.`,
        )
    }
  }
  return numbers
}

/** The table as CSV must say what the table as Parquet says. */
async function compareCsv(folder: string, published: readonly Record<string, unknown>[], add: Add): Promise<number> {
  const file = 'data/results.csv'
  const rows = await attempt(add, file, async () =>
    z.array(z.record(z.string(), z.string())).parse(parse(await textOf(folder, file), { columns: true })),
  )
  if (rows === null) return 0
  if (rows.length !== published.length)
    add(file, '', `It has ${rows.length} rows, data/results.parquet ${published.length}.`)
  let numbers = 0
  rows.slice(0, published.length).forEach((row, i) => {
    for (const { name } of RESULT_COLUMNS) {
      const value = (published[i] as Record<string, unknown>)[name]
      numbers += 1
      if (csvText(value) !== (row[name] ?? '')) {
        add(file, `row ${i + 1}, ${name}`, `It says ${row[name] ?? 'nothing'}, data/results.parquet ${csvText(value)}.`)
      }
    }
  })
  return numbers
}
