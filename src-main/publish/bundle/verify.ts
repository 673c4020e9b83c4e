import { existsSync } from 'node:fs'
import { join } from 'node:path'
import { z } from 'zod'
import { bundleSweepSchema, type BundleSweep, type VerifyProblem, type VerifyReport } from '#shared/domain/bundle.ts'
import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import { MEASURE_IDS } from '#shared/domain/measures.ts'
import { type Recipe, recipeHash, recipeSchema } from '#shared/domain/recipe.ts'
import { ALGORITHM, type Result } from '#shared/domain/result.ts'
import { publishedFindingsSchema } from '#shared/findings/campaign/published.ts'
import { compareTexts, differences, same } from './compare.ts'
import { checkEvidence, type MeasuredRow } from './check-evidence.ts'
import { checkManifest, MANIFEST } from './manifest.ts'
import { type Add, attempt, csvRows, resultRows, type Row, textOf, TraceFile } from './read.ts'
import { csvText, RESULT_COLUMNS, traceHash } from './tables.ts'

export interface VerifyOptions {
  readonly measure: (input: MeasureInput) => Promise<Result>
  readonly onProgress?: (done: number, total: number) => void
  readonly signal?: AbortSignal
}

/** Problems listed before the rest is only counted. */
const MOST = 200
const [RECIPE, SWEEPS, FINDINGS] = ['recipe.json', 'data/sweeps.json', 'data/findings.json']
const [RESULTS, CSV, TRACES] = ['data/results.parquet', 'data/results.csv', 'data/traces.parquet']

const num = (row: Row, key: string): number => z.number().parse(row[key])

/**
 * Measures every raw trace of a bundle again and compares each published number: those of the results, of the findings
 * drawn from them, of the report's text and figures. Rejects only when the bundle cannot be read at all
 * (`import-unreadable`) or the caller stopped it (`cancelled`); everything else is a problem of the report.
 */
export async function verifyFolder(folder: string, options: VerifyOptions): Promise<VerifyReport> {
  const problems: VerifyProblem[] = []
  const add: Add = (file, place, problem) => {
    if (problems.length < MOST) problems.push({ file, place, problem })
  }
  if (!existsSync(join(folder, MANIFEST)))
    throw new AppError(
      'import-unreadable',
      `This is no evidence bundle: it has no ${MANIFEST}.`,
      'Choose the folder or zip of a bundle.',
    )
  for (const { file, problem } of await checkManifest(folder, await textOf(folder, MANIFEST))) add(file, '', problem)

  const findings = await json(folder, FINDINGS, publishedFindingsSchema, add)
  if (findings !== null && findings.algorithm !== ALGORITHM) {
    add(
      FINDINGS,
      'algorithm',
      `It was measured by algorithm ${findings.algorithm}; this program has ${ALGORITHM}. Verify it with version ${findings.version}.`,
    )
    return { captures: 0, numbers: 0, problems }
  }
  const recipe = await ofFindings(folder, RECIPE, recipeSchema, findings?.recipe, add)
  const sweeps = await ofFindings(folder, SWEEPS, z.array(bundleSweepSchema), findings?.sweeps, add)
  if (recipe === null || sweeps === null) return { captures: 0, numbers: 0, problems }
  const hash = recipeHash(recipe)
  if (findings !== null && findings.recipeHash !== hash)
    add(RECIPE, 'hash', `The recipe’s hash is ${hash}, the findings name ${findings.recipeHash}.`)

  const csv = await attempt(add, CSV, '', async () => csvRows(await textOf(folder, CSV)))
  const published = await attempt(add, RESULTS, '', () => resultRows(folder, RESULTS, csv, add))
  if (published === null) return { captures: 0, numbers: 0, problems }
  let numbers = csv === null ? 0 : compareCsv(csv, published, add)
  const measured = await measureAll(folder, { published, sweeps, recipe, hash, options, add })
  if (measured === null) return { captures: 0, numbers, problems }
  numbers += measured.numbers
  if (findings !== null) {
    const { rows, traces } = measured
    numbers += await checkEvidence({ folder, findings, recipe, recipeHash: hash, sweeps, rows, traces, add })
  }
  return { captures: measured.captures, numbers, problems }
}

/** A file that the findings repeat: where it differs from them, or cannot be read, that is told and theirs is used. */
async function ofFindings<T extends Recipe | readonly BundleSweep[]>(
  folder: string,
  file: string,
  schema: z.ZodType<T>,
  published: T | undefined,
  add: Add,
): Promise<T | null> {
  const text = await attempt(add, file, '', () => textOf(folder, file))
  if (text === null) return published ?? null
  let own: T | null = null
  let why = ''
  try {
    own = schema.parse(JSON.parse(text))
  } catch (error) {
    why = error instanceof z.ZodError ? z.prettifyError(error) : toErrorDetail(error).message
  }
  if (published === undefined) {
    if (own === null) add(file, '', `It cannot be read: ${why}`)
    return own
  }
  if (own === null) {
    if (!compareTexts(file, text, `${JSON.stringify(published, null, 2)}\n`, add))
      add(file, '', `It cannot be read: ${why}`)
    return published
  }
  for (const { place, published: theirs, again } of differences(own, published))
    add(file, place, `It says ${theirs}, the findings ${again}.`)
  return own
}

async function json<T>(folder: string, file: string, schema: z.ZodType<T>, add: Add): Promise<T | null> {
  return attempt(add, file, '', async () => schema.parse(JSON.parse(await textOf(folder, file))))
}

interface MeasureAll {
  readonly published: readonly Row[]
  readonly sweeps: readonly BundleSweep[]
  readonly recipe: Recipe
  readonly hash: string
  readonly options: VerifyOptions
  readonly add: Add
}

interface Measured {
  readonly rows: readonly MeasuredRow[]
  readonly traces: TraceFile
  readonly captures: number
  readonly numbers: number
}

async function measureAll(folder: string, given: MeasureAll): Promise<Measured | null> {
  const { published, sweeps, recipe, hash, options, add } = given
  const sweepById = new Map(sweeps.map((sweep) => [sweep.id, sweep]))
  const rowById = await attempt(
    add,
    RESULTS,
    'column capture_id',
    async () => new Map(published.map((row) => [num(row, 'capture_id'), row])),
  )
  if (rowById === null) return null
  const traces = new TraceFile(folder, TRACES)
  const rows: MeasuredRow[] = []
  const seen = new Set<number>()
  let captures = 0
  let numbers = 0
  await attempt(add, TRACES, '', async () => {
    for await (const one of traces.all(add)) {
      options.signal?.throwIfAborted()
      const row = rowById.get(one.captureId)
      const place = `capture ${one.captureId}`
      if (row === undefined || seen.has(one.captureId)) {
        add(TRACES, place, 'It has no row of its own in the results.')
        continue
      }
      seen.add(one.captureId)
      if (row['trace_sha256'] !== traceHash(one)) add(TRACES, place, 'Its trace is not the one that was published.')
      const sweep = sweepById.get(num(row, 'sweep_id'))
      if (sweep === undefined) {
        add(RESULTS, `${place}, sweep_id`, 'Its sweep is not in data/sweeps.json.')
        continue
      }
      if (row['setting'] !== sweep.setting || row['refresh_hz'] !== sweep.refreshHz)
        add(RESULTS, `${place}, setting and refresh_hz`, 'They are not those of its sweep.')
      try {
        const result = await options.measure({
          trace: one.trace,
          triggerIndex: one.triggerIndex,
          from: num(row, 'from_code'),
          to: num(row, 'to_code'),
          refreshHz: sweep.refreshHz,
          ladder: sweep.ladder,
          edgeAtTrigger: sweep.edgeAtTrigger && one.triggerIndex > 0,
          recipe,
          override: one.override,
        })
        if (result.recipeHash !== hash) throw new AppError('internal', 'it was measured under another recipe')
        numbers += compareResult(row, result, place, add)
        rows.push({ row, overridden: one.override !== null, result })
      } catch (error) {
        add(TRACES, place, `It cannot be measured: ${toErrorDetail(error).message}`)
      }
      captures += 1
      options.onProgress?.(captures, rowById.size)
    }
    return true
  })
  for (const id of rowById.keys()) if (!seen.has(id)) add(RESULTS, `capture ${id}`, 'Its trace is missing.')
  return { rows, traces, captures, numbers }
}

function compareResult(row: Row, result: Result, place: string, add: Add): number {
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
          RESULTS,
          `${place}, ${key}`,
          `Published ${csvText(published) || 'nothing'}, measured again ${csvText(measured) || 'nothing'}.`,
        )
    }
  }
  return numbers
}

/** The table as CSV must say what the table as Parquet says. */
function compareCsv(rows: readonly Readonly<Record<string, string>>[], published: readonly Row[], add: Add): number {
  if (rows.length !== published.length) add(CSV, '', `It has ${rows.length} rows, ${RESULTS} ${published.length}.`)
  let numbers = 0
  rows.slice(0, published.length).forEach((row, i) => {
    for (const { name } of RESULT_COLUMNS) {
      const value = published[i]?.[name]
      numbers += 1
      if (csvText(value) !== (row[name] ?? ''))
        add(CSV, `row ${i + 1}, ${name}`, `It says ${row[name] ?? 'nothing'}, ${RESULTS} ${csvText(value)}.`)
    }
  })
  return numbers
}
