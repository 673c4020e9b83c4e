/** The tables that can be exported, drawn from the archive. */
import type { Campaign, Sweep } from '#shared/domain/capture.ts'
import { AppError } from '#shared/domain/errors.ts'
import { MEASURE_IDS, MEASURES, type MeasureId } from '#shared/domain/measures.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import { ALGORITHM } from '#shared/domain/result.ts'
import type { CaptureRow } from '#shared/domain/views.ts'
import { cellStatistics, repeatsExpected } from '#shared/findings/matrix.ts'
import type { Store } from '#main/core/ports.ts'
import type { Cell, Table } from './csv.ts'

/** What every row of a table says about where its numbers come from. */
const ORIGIN_COLUMNS = [
  'campaign',
  'display',
  'sweep_id',
  'setting',
  'refresh_hz',
  'recipe',
  'recipe_hash',
  'algorithm',
] as const

interface Source {
  readonly sweep: Sweep
  readonly recipe: Recipe
  readonly origin: readonly Cell[]
  readonly baseName: string
}

async function sourceOf(store: Store, sweepId: number, recipeHash: string): Promise<Source> {
  const [sweep, recipes, campaigns] = await Promise.all([store.sweep({ sweepId }), store.recipes(), store.campaigns()])
  const recipe = recipes.find(({ hash }) => hash === recipeHash)?.recipe
  if (recipe === undefined)
    throw new AppError('not-found', `No recipe has the hash ${recipeHash}.`, 'Choose one from the list of recipes.')
  const campaign = campaigns.find(({ id }) => id === sweep.campaignId)
  const { setting, refreshHz } = sweep.plan
  return {
    sweep,
    recipe,
    origin: [
      campaign?.name ?? null,
      campaign?.display ?? null,
      sweep.id,
      setting,
      refreshHz,
      recipe.name,
      recipeHash,
      ALGORITHM,
    ],
    baseName: `${sweepWords(campaign, sweep)}_${fileWord(recipe.name)}-${recipeHash.slice(0, 8)}_sweep-${sweep.id}`,
  }
}

/** Display, setting and refresh of a sweep as the beginning of a file name. */
export function sweepWords(campaign: Campaign | undefined, { plan }: Pick<Sweep, 'plan'>): string {
  const { display = '', name = '' } = campaign ?? {}
  return `${fileWord(display.trim() === '' ? name : display)}_${fileWord(plan.setting)}_${plan.refreshHz}hz`
}

/** A text as part of a file name on every system. */
export function fileWord(text: string): string {
  return (
    text
      .normalize('NFKD')
      .replace(/[^A-Za-z0-9]+/g, '-')
      .replace(/^-+|-+$/g, '')
      .toLowerCase()
      .slice(0, 40) || 'unnamed'
  )
}

const MATRIX_COLUMNS = [
  ...ORIGIN_COLUMNS,
  'measure',
  'unit',
  'from_code',
  'to_code',
  'n',
  'mean',
  's',
  'u95',
  'dof',
  'u_repeats',
  'u_common',
  'pooled',
  'min',
  'max',
  'median',
  'undecided',
  'excluded',
  'without_value',
  'missing',
  'flagged',
  'overridden',
  'note',
] as const

/**
 * One row per transition and measure: the statistics of its repeats, in the unit named beside them. `u_repeats` and
 * `u_common` are the standard uncertainties of the mean that `u95` is made of, `dof` its effective degrees of freedom
 * (empty where nothing limits them), `pooled` what the spread was pooled over the sweep as, if it was.
 */
export async function matrixTable(
  store: Store,
  request: { readonly sweepId: number; readonly recipeHash: string; readonly measures?: readonly MeasureId[] },
): Promise<Table> {
  const measures = request.measures ?? MEASURE_IDS
  const source = await sourceOf(store, request.sweepId, request.recipeHash)
  const data = await store.matrix({ sweepId: request.sweepId, recipeHash: request.recipeHash, measures })
  const rows = measures.flatMap((measure) =>
    cellStatistics(data, measure, repeatsExpected(source.sweep)).map((cell): Cell[] => [
      ...source.origin,
      measure,
      MEASURES[measure].unit,
      cell.from,
      cell.to,
      cell.n,
      cell.mean,
      cell.s,
      cell.u95,
      cell.dof === Infinity ? null : cell.dof,
      cell.budget?.repeats ?? null,
      cell.budget?.common ?? null,
      cell.pooledAs ?? '',
      cell.min,
      cell.max,
      cell.median,
      cell.undecided,
      cell.excluded,
      cell.withoutValue,
      cell.missing,
      cell.flagged,
      cell.overridden,
      cell.note,
    ]),
  )
  return {
    name: `${source.baseName}_matrix.csv`,
    columns: MATRIX_COLUMNS,
    rows: rows.length,
    async *batches() {
      for (let i = 0; i < rows.length; i += PAGE) yield rows.slice(i, i + PAGE)
    },
  }
}

/** Rows asked from the archive at a time. */
const PAGE = 200

const CAPTURE_COLUMNS = [
  ...ORIGIN_COLUMNS,
  'capture_id',
  'from_code',
  'to_code',
  'repeat',
  'attempt',
  'position',
  'taken_at',
  'verdict',
  'review',
  'review_reason',
  'reviewer',
  'overridden',
  'override',
  'superseded',
  'note',
  'flags',
  'source',
  'samples',
  'sample_rate_hz',
  'trigger_index',
  ...MEASURE_IDS,
  ...MEASURE_IDS.map((id) => `u_${id}`),
  'reasons',
] as const

/**
 * One row per capture of a sweep, also those without a result: every measure with its standard uncertainty (`u_…`, same
 * unit), flags separated by spaces, and `reasons` as a JSON object saying why a measure has no value. `overridden` is 1
 * where the values were measured with marks a person moved (`override`, JSON, s from the first sample); `superseded` is
 * 1 where a newer capture counts in its place.
 */
export async function capturesTable(
  store: Store,
  request: { readonly sweepId: number; readonly recipeHash: string },
): Promise<Table> {
  const { sweepId, recipeHash } = request
  const source = await sourceOf(store, sweepId, recipeHash)
  const page = (offset: number): ReturnType<Store['captures']> =>
    store.captures({ sweepId, recipeHash, sort: { by: 'id', descending: false }, offset, limit: PAGE })
  const first = await page(0)
  return {
    name: `${source.baseName}_captures.csv`,
    columns: CAPTURE_COLUMNS,
    rows: first.total,
    async *batches() {
      for (let offset = 0, rows = first.rows; rows.length > 0; offset += PAGE, rows = (await page(offset)).rows)
        yield await Promise.all(rows.map((row) => captureCells(store, source, recipeHash, row)))
    },
  }
}

async function captureCells(store: Store, source: Source, recipeHash: string, row: CaptureRow): Promise<Cell[]> {
  const { info } = row
  // Most captures have neither review nor note, and only their result is asked for.
  const detail = row.review === null && !row.noted ? null : await store.detail({ captureId: info.id, recipeHash })
  const result = detail?.result ?? (row.values === null ? null : await store.result(info.id, recipeHash))
  const standing = [...(detail?.reviews ?? [])].sort((a, b) => b.id - a.id).find((review) => !review.undone)
  return [
    ...source.origin,
    info.id,
    info.from,
    info.to,
    info.repeat,
    info.attempt,
    info.position,
    info.takenAt,
    info.verdict,
    row.review,
    standing?.reason ?? null,
    standing?.reviewer ?? null,
    row.overridden ? 1 : 0,
    row.overridden ? JSON.stringify(standing?.override ?? null) : null,
    row.superseded ? 1 : 0,
    detail?.note?.text ?? null,
    row.flags.join(' '),
    info.source,
    info.sampleCount,
    info.sampleRateHz,
    info.triggerIndex,
    ...MEASURE_IDS.map((id) => row.values?.[id] ?? null),
    ...MEASURE_IDS.map((id) => result?.uncertainties[id] ?? null),
    result === null ? '' : JSON.stringify(result.reasons),
  ]
}
