/** What a bundle holds beside results and traces; drawn from the same content it is the same, byte for byte. */
import type { BundleExtra, BundleSweep } from '#shared/domain/bundle.ts'
import { ALGORITHM } from '#shared/domain/result.ts'
import { findingsJsonSchema, publishedFindings, type PublishedFindings } from '#shared/findings/campaign/published.ts'
import { campaignReport } from '#shared/report/campaign-report.ts'
import { figureCsv, figureSvg } from '#shared/figures/file.ts'
import { figuresOf, type ReportDocument } from '#shared/report/document.ts'
import { recordValues } from '#shared/record/record.ts'
import type { Publisher } from '../ports.ts'
import { recordOf } from './findings.ts'
import { reportInput, type RecordReader, type ReportRequest } from './report-input.ts'

export const FINDINGS = 'data/findings.json'
export const FINDINGS_SCHEMA = 'data/findings.schema.json'
export const REPORT = 'report.html'

/** Findings, their schema, the report and its figures. */
export async function evidenceFiles(
  reader: RecordReader,
  publisher: Pick<Publisher, 'figures' | 'html'> & {
    /** PNG of a figure for the file of this path; null where there is none. */
    readonly png: (svg: string, path: string) => Promise<Uint8Array | null>
  },
  request: ReportRequest,
  sweeps: readonly BundleSweep[],
): Promise<BundleExtra[]> {
  const document = campaignReport(publisher.figures, await reportInput(reader, request))
  return [
    file(REPORT, 'Report', 'text/html', publisher.html(document)),
    file(FINDINGS, 'Findings: figures, limits, sentences', 'application/json', json(findingsOf(request, sweeps))),
    file(FINDINGS_SCHEMA, 'JSON Schema of the findings', 'application/schema+json', json(findingsJsonSchema())),
    ...(await figureFiles(document, publisher.png)),
  ]
}

/** Each figure as SVG, its numbers as CSV, and PNG where that can be made. */
export async function figureFiles(
  document: ReportDocument,
  png: (svg: string, path: string) => Promise<Uint8Array | null>,
): Promise<BundleExtra[]> {
  const files: BundleExtra[] = []
  for (const { id, caption, svg, data } of figuresOf(document)) {
    const path = `figures/${id}`
    files.push(file(`${path}.svg`, caption, 'image/svg+xml', figureSvg(svg)))
    files.push(file(`${path}.csv`, `Numbers of: ${caption}`, 'text/csv', figureCsv(data)))
    const bytes = await png(svg, `${path}.png`)
    if (bytes !== null) files.push({ path: `${path}.png`, name: caption, encodingFormat: 'image/png', bytes })
  }
  return files
}

export function findingsOf(request: ReportRequest, sweeps: readonly BundleSweep[]): PublishedFindings {
  const { content, recipe, recipeHash, limits, weighting, pixelsPerS, version } = request
  const { display, name, note, origin } = content.campaign
  return publishedFindings(
    {
      version,
      algorithm: ALGORITHM,
      display: display || name,
      campaign: name,
      note,
      invented: origin === 'simulated',
      recipe,
      recipeHash,
      limits,
      weighting,
      pixelsPerS,
      sweeps,
    },
    content.sweeps.map(({ point }) => point),
    recordValues(
      recordOf(
        content.readings,
        content.sweeps.map(({ sweep }) => sweep),
      ),
    ),
  )
}

const json = (value: unknown): string => `${JSON.stringify(value, null, 2)}\n`
const file = (path: string, name: string, encodingFormat: string, text: string): BundleExtra => ({
  path,
  name,
  encodingFormat,
  bytes: new TextEncoder().encode(text),
})
