/** Gathers what a campaign's report shows beside its figures: matrices, slowest traces, moving edges. */
import { ALGORITHM } from '#shared/domain/result.ts'
import type { StoredInput } from '#shared/domain/stored.ts'
import { hertz } from '#shared/domain/quantity-text.ts'
import type { Landmarks, Result } from '#shared/domain/result.ts'
import type { Campaign, Ladder, RawTrace, Sweep } from '#shared/domain/capture.ts'
import type { Reading } from '#shared/domain/reading.ts'
import type { MatrixData } from '#shared/domain/views.ts'
import type { MeasuredPoint } from '#shared/findings/campaign/figures.ts'
import { cellStatistics, type CellStatistics } from '#shared/findings/matrix.ts'
import type { CampaignReportInput, ReportEdges, ReportTrace } from '#shared/report/campaign-input.ts'
import { recordOf } from './findings.ts'
import { edgesAt } from './moving-edges.ts'
import { whiteDrift } from './white-drift.ts'

/** What a report tells of a sweep. */
export interface ReportSweep {
  readonly sweep: Pick<Sweep, 'id' | 'setting' | 'refreshHz' | 'createdAt' | 'missing' | 'rigIdentity'> & {
    readonly ladder: Ladder | null
  }
  readonly matrix: MatrixData
  readonly point: MeasuredPoint
}

export interface ReportContent {
  readonly campaign: Pick<Campaign, 'display' | 'name' | 'note' | 'origin'>
  readonly sweeps: readonly ReportSweep[]
  /** In the order they were taken; the record is made from those of its kinds. */
  readonly readings: readonly Reading[]
}

export interface ReportRequest extends Pick<
  CampaignReportInput,
  'recipe' | 'recipeHash' | 'limits' | 'weighting' | 'version'
> {
  readonly content: ReportContent
  /** Speed of the computed moving edge, px/s. */
  readonly pixelsPerS: number
}

const WORST_TRACES = 3
/** Columns of a drawn trace: about one a pixel of a figure. */
const COLUMNS = 600

/** Where records and results of single captures come from. */
export interface RecordReader {
  inputs(captureIds: readonly number[]): Promise<readonly Pick<StoredInput, 'trace' | 'triggerIndex'>[]>
  result(captureId: number, recipeHash: string): Promise<Pick<Result, 'landmarks'> | null>
}

export async function reportInput(store: RecordReader, request: ReportRequest): Promise<CampaignReportInput> {
  const { content, recipe, recipeHash, limits, weighting, version } = request
  const { campaign, sweeps } = content
  const matrices = sweeps.map(({ sweep, matrix }) => ({
    sweepId: sweep.id,
    setting: sweep.setting,
    refreshHz: sweep.refreshHz,
    cells: cellStatistics(matrix, 'transition_duration_s'),
  }))
  const counted = matrices.flatMap(({ cells }) => cells)
  const total = (pick: (cell: CellStatistics) => number): number => counted.reduce((sum, cell) => sum + pick(cell), 0)
  const times = sweeps.map(({ sweep }) => sweep.createdAt).sort()
  return {
    display: campaign.display || campaign.name,
    campaign: campaign.name,
    note: campaign.note,
    invented: campaign.origin === 'simulated',
    points: sweeps.map(({ point }) => point),
    limits,
    weighting,
    matrices,
    worst: await worstTraces(store, request),
    edges: await movingEdges(store, request),
    record: recordOf(
      content.readings,
      sweeps.map(({ sweep }) => sweep),
    ),
    recipe,
    recipeHash,
    algorithm: ALGORITHM,
    version,
    counts: {
      captures: total(({ n }) => n),
      flagged: total(({ flagged }) => flagged),
      excluded: total(({ excluded }) => excluded),
      missing: sweeps.reduce((sum, { sweep }) => sum + sweep.missing, 0),
    },
    drifts: driftsOf(sweeps),
    rigs: [...new Set(sweeps.map(({ sweep }) => sweep.rigIdentity))],
    takenFrom: times[0] ?? null,
    takenTo: times.at(-1) ?? null,
  }
}

/** Compared in the order they were taken, which is that of their numbers. */
function driftsOf(sweeps: ReportContent['sweeps']): string[] {
  const taken = sweeps.map(({ sweep }) => sweep).filter(({ ladder }) => ladder !== null)
  taken.sort((a, b) => a.id - b.id)
  return taken.flatMap(({ id, setting, refreshHz }) => {
    const found = whiteDrift(taken, id)
    return found === null ? [] : [`${setting} at ${hertz(refreshHz)} Hz: ${found}`]
  })
}

/** The transitions with the longest mean duration over the whole campaign, one capture of each. */
async function worstTraces(store: RecordReader, { content, recipeHash }: ReportRequest): Promise<ReportTrace[]> {
  const slowest = content.sweeps
    .flatMap(({ sweep, matrix }) => {
      const cells = cellStatistics(matrix, 'transition_duration_s')
      return cells.flatMap((cell) => (cell.mean === null ? [] : [{ sweep, matrix, cell, mean: cell.mean }]))
    })
    .sort((a, b) => b.mean - a.mean)
    .slice(0, WORST_TRACES)
  const found = await Promise.all(
    slowest.map(async ({ sweep, matrix, cell, mean }): Promise<ReportTrace[]> => {
      const entries = matrix.cells.find(({ from, to }) => from === cell.from && to === cell.to)?.entries ?? []
      // The capture nearest to the cell's mean stands for it.
      const nearest = entries
        .filter(({ excluded, values }) => !excluded && values.transition_duration_s != null)
        .sort(
          (a, b) =>
            Math.abs((a.values.transition_duration_s ?? 0) - mean) -
            Math.abs((b.values.transition_duration_s ?? 0) - mean),
        )[0]
      if (nearest === undefined) return []
      const [input] = await store.inputs([nearest.captureId])
      const result = await store.result(nearest.captureId, recipeHash)
      if (input === undefined || result === null) return []
      const drawn = drawnTrace(input.trace, result.landmarks)
      if (drawn === null) return []
      return [
        {
          captureId: nearest.captureId,
          setting: sweep.setting,
          refreshHz: sweep.refreshHz,
          from: cell.from,
          to: cell.to,
          durationS: mean,
          u95S: cell.u95,
          ...drawn,
        },
      ]
    }),
  )
  return found.flat()
}

/** A record from a little before onset to well after settling, in percent of its step. */
function drawnTrace(trace: RawTrace, marks: Landmarks): Pick<ReportTrace, 'envelope' | 'marks'> | null {
  const { beforeV, afterV, onsetS, crossLowS, crossHighS, arrivalAtS, settledAtS } = marks
  const zero = onsetS ?? crossLowS
  if (beforeV === null || afterV === null || zero === null || crossHighS === null) return null
  const rate = trace.sampleRateHz
  const end = settledAtS ?? arrivalAtS ?? crossHighS
  const span = Math.max(end - zero, 0.001)
  const first = Math.max(0, Math.floor((zero - 0.3 * span) * rate))
  const last = Math.min(trace.samples.length, Math.ceil((end + 0.8 * span) * rate))
  const columns = Math.min(COLUMNS, last - first)
  const percent = (sample: number): number =>
    (100 * (sample * trace.scaleV + trace.offsetV - beforeV)) / (afterV - beforeV)
  const envelope = Array.from({ length: columns }, (_, column) => {
    const from = first + Math.floor((column * (last - first)) / columns)
    const to = Math.max(from + 1, first + Math.floor(((column + 1) * (last - first)) / columns))
    const values = Array.from(trace.samples.subarray(from, to), percent)
    return {
      timeMs: 1000 * ((from + to - 1) / 2 / rate - zero),
      lowPct: Math.min(...values),
      highPct: Math.max(...values),
    }
  })
  const named: [string, number | null][] = [
    ['low', crossLowS],
    ['high', crossHighS],
    ['settled', settledAtS],
  ]
  return {
    envelope,
    marks: named.flatMap(([label, at]) => (at === null ? [] : [{ label, timeMs: 1000 * (at - zero) }])),
  }
}

/** At the lowest and the highest refresh rate. */
async function movingEdges(store: RecordReader, { content, pixelsPerS }: ReportRequest): Promise<ReportEdges[]> {
  const rates = [...new Set(content.sweeps.map(({ sweep }) => sweep.refreshHz))].sort((a, b) => a - b)
  const shown = [...new Set([rates[0], rates.at(-1)])].filter((hz) => hz !== undefined)
  const all = await Promise.all(shown.map((refreshHz) => edgesAt(store, content.sweeps, { refreshHz })))
  return all.flatMap((edges) => (edges === null || edges.pictures.length === 0 ? [] : [{ ...edges, pixelsPerS }]))
}
