import { AppError } from '#shared/domain/errors.ts'
import { MEASURE_IDS, type MeasureId } from '#shared/domain/measures.ts'
import { canonicalJson, recipeHash, type Recipe } from '#shared/domain/recipe.ts'
import type { Flag, FlagId, Result } from '#shared/domain/result.ts'
import type { Archive } from '../archive.ts'
import { detailOf, insertDetail } from './detail.ts'

/** Number of the pair of recipe and measuring code; 0 when nothing was computed under it yet. */
export function analysisId(archive: Archive, hash: string, algorithm = archive.algorithm): number {
  const key = `${hash} ${algorithm}`
  const known = archive.numbers.analysis.get(key)
  if (known !== undefined) return known
  const id = archive.sql('SELECT id FROM analysis WHERE recipe_hash = ? AND algorithm = ?').pluck().get(hash, algorithm)
  if (typeof id !== 'number') return 0
  archive.numbers.analysis.set(key, id)
  return id
}

function ensureAnalysis(archive: Archive, hash: string, algorithm: string): number {
  const known = analysisId(archive, hash, algorithm)
  if (known !== 0) return known
  if (archive.sql('SELECT 1 FROM recipe WHERE hash = ?').get(hash) === undefined)
    throw new AppError(
      'not-found',
      `The recipe ${hash} of this result is not in the archive.`,
      'Save the recipe before its results.',
    )
  return Number(
    archive.sql('INSERT INTO analysis (recipe_hash, algorithm) VALUES (?, ?)').run(hash, algorithm).lastInsertRowid,
  )
}

const COLUMNS = MEASURE_IDS.join(', ')
const INSERT_RESULT = `
INSERT INTO result (analysis_id, sweep_id, capture_id, override_id, level_from, level_to, flag_count, ${COLUMNS})
VALUES (?, ?, ?, ?, ?, ?, ?, ${MEASURE_IDS.map(() => '?').join(', ')})
ON CONFLICT (analysis_id, sweep_id, capture_id, override_id) DO NOTHING`

const INSERT_FLAG = `
INSERT INTO result_flag (result_id, origin, number, flag, evidence, value, bound, unit, first_sample, last_sample)
VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`

function insertFlag(archive: Archive, resultId: number, origin: 0 | 1, number: number, flag: Flag): void {
  const span = flag.span ?? [null, null]
  archive
    .sql(INSERT_FLAG)
    .run(
      resultId,
      origin,
      number,
      flag.id,
      flag.evidence,
      flag.value,
      flag.limit,
      flag.unit,
      span[0] === null ? null : Math.round(span[0]),
      span[1] === null ? null : Math.round(span[1]),
    )
}

/** Keeps the result that is there already. `overrideId` is the review whose marks were used, 0 for none. */
export function insertResult(archive: Archive, captureId: number, result: Result, overrideId: number): void {
  const capture = archive.sql('SELECT sweep_id, level_from, level_to FROM capture WHERE id = ?').raw().get(captureId)
  if (capture === undefined) throw new AppError('not-found', `Capture ${captureId} is not in the archive.`)
  const [sweepId, from, to] = capture as [number, number, number]
  const analysis = ensureAnalysis(archive, result.recipeHash, result.algorithm)
  const values = MEASURE_IDS.map((id) => finite(result.values[id] ?? null, id))
  const { changes, lastInsertRowid } = archive
    .sql(INSERT_RESULT)
    .run(analysis, sweepId, captureId, overrideId, from, to, result.flags.length, ...values)
  if (changes === 0) return
  const resultId = Number(lastInsertRowid)
  insertDetail(archive, resultId, result)
  result.flags.forEach((flag, number) => insertFlag(archive, resultId, 0, number, flag))
}

function finite(value: number | null, id: MeasureId): number | null {
  if (value === null || Number.isFinite(value)) return value
  throw new AppError('invalid-input', `The value of ${id} is ${value}; an undefined value is null with a reason.`)
}

export function addResults(
  archive: Archive,
  results: readonly { captureId: number; result: Result; overrideId?: number | null }[],
): null {
  archive.writeDerived(() => {
    for (const { captureId, result, overrideId } of results) {
      const id = overrideId ?? 0
      if (
        id !== 0 &&
        archive.sql('SELECT 1 FROM review WHERE id = ? AND capture_id = ?').get(id, captureId) === undefined
      )
        throw new AppError('not-found', `Review ${id} of capture ${captureId} is not in the archive.`)
      insertResult(archive, captureId, result, id)
    }
  })
  return null
}

/** Joins the result that counts for a capture: under its standing override, else the machine's own. */
export const EFFECTIVE_RESULT = `r.analysis_id = @analysis AND r.sweep_id = c.sweep_id AND r.capture_id = c.id
  AND r.override_id = coalesce(s.override_id, 0)`

interface FlagRecord {
  flag: FlagId
  evidence: string
  value: number | null
  bound: number | null
  unit: string
  first_sample: number | null
  last_sample: number | null
}

type ResultRecord = { id: number } & Result['values']
const RESULT_COLUMNS = `r.id, ${MEASURE_IDS.map((id) => `r.${id}`).join(', ')}`

/** The result that counts: under the standing override, else the machine's own. */
export function getResult(archive: Archive, captureId: number, hash: string): Result | null {
  const row = archive
    .sql(
      `SELECT ${RESULT_COLUMNS} FROM capture c LEFT JOIN standing s ON s.capture_id = c.id
       JOIN result r ON ${EFFECTIVE_RESULT} WHERE c.id = @capture`,
    )
    .get({ analysis: analysisId(archive, hash), capture: captureId }) as ResultRecord | undefined
  if (row !== undefined) return resultOf(archive, row, hash)
  if (archive.sql('SELECT 1 FROM capture WHERE id = ?').get(captureId) === undefined)
    throw new AppError('not-found', `Capture ${captureId} is not in the archive.`)
  return null
}

/** The machine's own result, whatever marks a person moved. */
export function ownResult(archive: Archive, captureId: number, hash: string): Result | null {
  const row = archive
    .sql(
      `SELECT ${RESULT_COLUMNS} FROM capture c JOIN result r ON r.analysis_id = @analysis AND r.sweep_id = c.sweep_id
         AND r.capture_id = c.id AND r.override_id = 0 WHERE c.id = @capture`,
    )
    .get({ analysis: analysisId(archive, hash), capture: captureId }) as ResultRecord | undefined
  return row === undefined ? null : resultOf(archive, row, hash)
}

/** Recipes under which captures of a sweep have results of the measuring code in use. */
export function measuredRecipes(archive: Archive, sweepId: number): string[] {
  return archive
    .sql(
      `SELECT a.recipe_hash FROM analysis a WHERE a.algorithm = ?
       AND EXISTS (SELECT 1 FROM result r WHERE r.analysis_id = a.id AND r.sweep_id = ?) ORDER BY a.id`,
    )
    .pluck()
    .all(archive.algorithm, sweepId) as string[]
}

function resultOf(archive: Archive, row: ResultRecord, hash: string): Result {
  const flags = archive
    .sql('SELECT * FROM result_flag WHERE result_id = ? ORDER BY origin, number')
    .all(row.id) as FlagRecord[]
  const values = Object.fromEntries(MEASURE_IDS.map((id) => [id, row[id]])) as Result['values']
  return {
    recipeHash: hash,
    algorithm: archive.algorithm,
    values,
    ...detailOf(archive, row.id),
    flags: flags.map((flag) => ({
      id: flag.flag,
      evidence: flag.evidence,
      value: flag.value,
      limit: flag.bound,
      unit: flag.unit,
      span: flag.first_sample === null || flag.last_sample === null ? null : [flag.first_sample, flag.last_sample],
    })),
  }
}

/** Good captures without a result of this recipe and of the measuring code in use, ascending. */
export function unmeasured(archive: Archive, hash: string, scope: { campaignId?: number; sweepId?: number }): number[] {
  const conditions = ["c.verdict = 'good'"]
  if (scope.sweepId !== undefined) conditions.push('c.sweep_id = @sweep')
  else conditions.push('c.sweep_id NOT IN (SELECT id FROM sweep WHERE hidden = 1)')
  if (scope.campaignId !== undefined)
    conditions.push('c.sweep_id IN (SELECT id FROM sweep WHERE campaign_id = @campaign)')
  return archive
    .sql(
      `SELECT c.id FROM capture c LEFT JOIN standing s ON s.capture_id = c.id
       WHERE ${conditions.join(' AND ')} AND NOT EXISTS (SELECT 1 FROM result r WHERE ${EFFECTIVE_RESULT})
       ORDER BY c.id`,
    )
    .pluck()
    .all({
      analysis: analysisId(archive, hash),
      sweep: scope.sweepId ?? 0,
      campaign: scope.campaignId ?? 0,
    }) as number[]
}

/** Replaces the flags drawn from comparing captures. A capture without a result keeps none: flags belong to results. */
export function setGroupFlags(
  archive: Archive,
  sweepId: number,
  hash: string,
  flags: readonly { captureId: number; flag: Flag }[],
): null {
  const analysis = analysisId(archive, hash)
  archive.write(() => {
    archive
      .sql(
        `DELETE FROM result_flag WHERE origin = 1
         AND result_id IN (SELECT id FROM result WHERE analysis_id = ? AND sweep_id = ?)`,
      )
      .run(analysis, sweepId)
    const find = archive
      .sql(
        `SELECT r.id FROM capture c LEFT JOIN standing s ON s.capture_id = c.id JOIN result r ON ${EFFECTIVE_RESULT}
         WHERE c.id = @capture AND c.sweep_id = @sweep`,
      )
      .pluck()
    const numbers = new Map<number, number>()
    for (const { captureId, flag } of flags) {
      const resultId = find.get({ analysis, capture: captureId, sweep: sweepId })
      if (typeof resultId !== 'number') continue
      const number = numbers.get(resultId) ?? 0
      numbers.set(resultId, number + 1)
      insertFlag(archive, resultId, 1, number, flag)
    }
    archive
      .sql(
        `UPDATE result SET flag_count = n.flags FROM (
           SELECT r.id, (SELECT count(*) FROM result_flag f WHERE f.result_id = r.id) AS flags
           FROM result r WHERE r.analysis_id = ? AND r.sweep_id = ?) AS n
         WHERE n.id = result.id AND n.flags <> result.flag_count`,
      )
      .run(analysis, sweepId)
  })
  return null
}

/** The first recipe of a hash keeps its name: recipes never change. */
export function saveRecipe(archive: Archive, recipe: Recipe): { hash: string } {
  const hash = recipeHash(recipe)
  archive
    .sql('INSERT INTO recipe (hash, parameters, created_at) VALUES (?, ?, ?) ON CONFLICT (hash) DO NOTHING')
    .run(hash, canonicalJson(recipe), archive.at)
  return { hash }
}

export function recipes(archive: Archive): { hash: string; recipe: Recipe }[] {
  const rows = archive.sql('SELECT hash, parameters FROM recipe ORDER BY id').all()
  return (rows as { hash: string; parameters: string }[]).map((row) => ({
    hash: row.hash,
    recipe: JSON.parse(row.parameters) as Recipe,
  }))
}
