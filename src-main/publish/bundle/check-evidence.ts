/** Findings, report and figures of a bundle drawn again from what was measured again. */
import { lstat, readFile, stat } from 'node:fs/promises'
import { join } from 'node:path'
import { parseHTML } from 'linkedom'
import { z } from 'zod'
import { evidenceFiles } from '#main/core/campaign/evidence.ts'
import { EXTRACT } from '#main/core/campaign/extract.ts'
import { storedReadingSchema, type Reading } from '#shared/domain/reading.ts'
import type { BundleSweep } from '#shared/domain/bundle.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { Result } from '#shared/domain/result.ts'
import { measuredPoint } from '#shared/findings/campaign/points.ts'
import type { PublishedFindings } from '#shared/findings/campaign/published.ts'
import { matrixOfResults } from '#shared/findings/matrix-of-results.ts'
import { reportHtml } from '../html.ts'
import { figurePng } from '../raster.ts'
import { compareTexts, differences } from './compare.ts'
import { METADATA } from './crate.ts'
import { checkLatency } from './latency.ts'
import { filesBelow } from './manifest.ts'
import { type Add, attempt, type Row, textOf, type TraceFile } from './read.ts'
import { metadataText } from './write.ts'

const extractSchema = z.object({ readings: z.array(storedReadingSchema) })

/** A published row and what was measured again of its trace. */
export interface MeasuredRow {
  readonly row: Row
  readonly overridden: boolean
  readonly result: Result
}

export interface CheckEvidence {
  readonly folder: string
  readonly findings: PublishedFindings
  readonly recipe: Recipe
  readonly recipeHash: string
  readonly sweeps: readonly BundleSweep[]
  readonly rows: readonly MeasuredRow[]
  readonly traces: TraceFile
  readonly add: Add
}

/** Tells what differs; answers how many numbers of the findings were compared. */
export async function checkEvidence(given: CheckEvidence): Promise<number> {
  const { folder, findings, recipe, recipeHash, sweeps, rows, traces, add } = given
  const { document } = parseHTML('<!doctype html><html><body></body></html>')
  const results = new Map(rows.map(({ row, result }) => [Number(row['capture_id']), result]))
  const { display, campaign: name, note, invented, limits, weighting, pixelsPerS, version } = findings
  const readings = (await attempt(add, EXTRACT, 'readings', () => publishedReadings(folder))) ?? []
  const latency = await checkLatency(folder, readings, add)
  const content = {
    readings,
    campaign: { display, name, note, origin: invented ? ('simulated' as const) : ('measured' as const) },
    sweeps: sweeps.map((sweep) => {
      const { id: sweepId, setting, refreshHz, levels } = sweep
      const matrix = matrixOfResults(
        { sweepId, recipeHash, levels },
        rows.filter(({ row }) => row['sweep_id'] === sweepId).map(countedOf),
      )
      return { sweep, matrix, point: measuredPoint({ sweepId, setting, refreshHz }, matrix, recipe) }
    }),
  }
  const extras = await attempt(add, 'report.html', '', () =>
    evidenceFiles(
      { inputs: (ids) => traces.some(ids), result: async (id) => results.get(id) ?? null },
      { figures: { document }, html: reportHtml, png: (svg, path) => pictureAgain(folder, svg, path) },
      { content, recipe, recipeHash, limits, weighting, pixelsPerS, version },
      sweeps,
    ),
  )
  if (extras === null) return latency
  for (const { path, encodingFormat, bytes } of extras) {
    if (encodingFormat === 'image/png') {
      if (!(await readFile(join(folder, path))).equals(bytes)) add(path, '', 'It is not the picture of its SVG.')
      continue
    }
    const published = await attempt(add, path, '', () => textOf(folder, path))
    const again = new TextDecoder().decode(bytes)
    if (published === null || published === again) continue
    if (encodingFormat !== 'application/json') compareTexts(path, published, again, add)
    else
      for (const one of differences(JSON.parse(published), JSON.parse(again)))
        add(path, one.place, `Published ${one.published}, drawn again ${one.again}.`)
  }
  const drawn = new Set(extras.map(({ path }) => path))
  for (const path of await filesBelow(folder))
    if (path.startsWith('figures/') && !drawn.has(path)) add(path, '', 'It is no figure of the report.')
  await attempt(add, METADATA, '', async () => {
    const subject = { display, campaign: name, invented, recipe, recipeHash, version, sweeps }
    compareTexts(METADATA, await textOf(folder, METADATA), await metadataText(folder, subject, extras), add)
    return true
  })
  return latency + countNumbers(findings)
}

/** PNG of a figure drawn again; as it lies there where nothing can draw it here, null where the bundle has none. */
async function pictureAgain(folder: string, svg: string, path: string): Promise<Uint8Array | null> {
  const there = await lstat(join(folder, path)).catch(() => null)
  if (there === null || !there.isFile()) return null
  return (await figurePng(svg)) ?? readFile(join(folder, path))
}

/** What was read of the display, as published; none in a bundle without an extract of the archive. */
async function publishedReadings(folder: string): Promise<Reading[]> {
  const there = await stat(join(folder, EXTRACT)).catch(() => null)
  if (there === null) return []
  return extractSchema.parse(JSON.parse(await textOf(folder, EXTRACT))).readings
}

function countedOf({ row, overridden, result }: MeasuredRow) {
  const flags = typeof row['flags'] === 'string' ? row['flags'] : ''
  return {
    captureId: Number(row['capture_id']),
    from: Number(row['from_code']),
    to: Number(row['to_code']),
    repeat: Number(row['repeat']),
    excluded: row['excluded'] === true,
    overridden,
    flagCount: flags === '' ? 0 : flags.split(' ').length,
    result,
  }
}

function countNumbers(value: unknown): number {
  if (typeof value === 'number') return 1
  if (typeof value !== 'object' || value === null) return 0
  return Object.values(value).reduce((sum: number, one) => sum + countNumbers(one), 0)
}
