/** Reports and evidence bundles of a campaign under the recipe in use. */
import type { BundleCapture, BundleExtra, BundleSubject, BundleSweep } from '#shared/domain/bundle.ts'
import type { Ladder } from '#shared/domain/capture.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { LatencyEvent } from '#shared/domain/latency.ts'
import type { Reading } from '#shared/domain/reading.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { CampaignPoints, Limits } from '#shared/findings/campaign/figures.ts'
import { crosstalkByPlace } from '#shared/findings/campaign/strobe-places.ts'
import type { EdgeSet } from '#shared/findings/campaign/moving-edge.ts'
import type { Weighting } from '#shared/findings/campaign/over-refresh.ts'
import type { ReportChapter } from '#shared/domain/report-chapters.ts'
import { recordValues } from '#shared/record/record.ts'
import { campaignReport } from '#shared/report/campaign-report.ts'
import type { ReportDocument } from '#shared/report/document.ts'
import type { ExportFile, Publisher, Store } from '../ports.ts'
import { eventsOf } from '../latency.ts'
import type { RecipeBook } from '../recipes.ts'
import { evidenceFiles, figureFiles } from './evidence.ts'
import { archiveExtract } from './extract.ts'
import { campaignContent, type CampaignContent, campaignFigures, recordOf } from './findings.ts'
import { type EdgeQuestion, edgesAt } from './moving-edges.ts'
import { reportInput } from './report-input.ts'

export interface PublishRequest {
  readonly campaignId: number
  readonly limits: Limits
  readonly weighting: Weighting
}

/** Speed of the computed moving edge, px/s; named in its caption. */
const PIXELS_PER_S = 960
const READ_AT_ONCE = 32
const PIECE_BYTES = 256 * 1024

export interface Publishing {
  content(campaignId: number, recipeHash: string): Promise<CampaignPoints>
  /** null where nothing was measured at this rate. */
  edges(campaignId: number, recipeHash: string, question: EdgeQuestion): Promise<EdgeSet | null>
  report(request: PublishRequest, form: 'html' | 'pdf', chapters?: readonly ReportChapter[]): Promise<ExportFile>
  /** Every figure of the report as SVG and CSV, and as PNG where that can be made; paths below `figures/`. */
  figures(request: PublishRequest, chapters?: readonly ReportChapter[]): Promise<BundleExtra[]>
  bundleZip(request: PublishRequest): Promise<ExportFile>
  bundle(request: PublishRequest, folder: string, signal?: AbortSignal): Promise<void>
}

export function createPublishing(deps: {
  readonly store: Store
  readonly recipes: Pick<RecipeBook, 'current' | 'currentHash' | 'get'>
  readonly publisher: Publisher
  readonly version: string
}): Publishing {
  const { store, recipes, publisher, version } = deps
  const contentOf = async (
    campaignId: number,
  ): Promise<{
    content: CampaignContent & { readonly readings: readonly Reading[] }
    recipe: Recipe
    recipeHash: string
  }> => {
    const [recipe, recipeHash] = [recipes.current(), recipes.currentHash()]
    const content = await campaignContent(store, campaignId, recipeHash, recipe)
    if (content.sweeps.length === 0)
      throw new AppError(
        'conflict',
        'This campaign has no results under the recipe in use.',
        'Run a sweep, or measure its captures under this recipe.',
      )
    return { content: { ...content, readings: await store.readings({ campaignId }) }, recipe, recipeHash }
  }

  const askedOf = async (request: PublishRequest) => ({
    ...(await contentOf(request.campaignId)),
    ...request,
    pixelsPerS: PIXELS_PER_S,
    version,
  })

  async function document(request: PublishRequest, chapters?: readonly ReportChapter[]): Promise<ReportDocument> {
    return campaignReport(publisher.figures, await reportInput(store, await askedOf(request)), chapters)
  }

  /** Everything that goes into a bundle beside the traces. */
  async function evidence(request: PublishRequest): Promise<{
    subject: BundleSubject
    extras: BundleExtra[]
    captures: AsyncIterable<BundleCapture>
  }> {
    const asked = await askedOf(request)
    const { content, recipe, recipeHash } = asked
    const { campaign, sweeps } = content
    const subject: BundleSubject = {
      display: campaign.display || campaign.name,
      campaign: campaign.name,
      invented: campaign.origin === 'simulated',
      recipe,
      recipeHash,
      version,
      sweeps: sweeps.map(({ sweep }): BundleSweep => ({
        id: sweep.id,
        setting: sweep.setting,
        refreshHz: sweep.refreshHz,
        edgeAtTrigger: sweep.origin !== 'imported',
        levels: sweep.plan.levels,
        repeats: sweep.plan.repeats,
        missing: sweep.missing,
        rigIdentity: sweep.rigIdentity,
        createdAt: sweep.createdAt,
        ladder: sweep.ladder === null ? null : ladderOf(sweep.ladder),
      })),
      ...(await latencyOf(store, request.campaignId)),
    }
    const extras = [
      ...(await evidenceFiles(store, publisher, asked, subject.sweeps)),
      await archiveExtract(store, content),
    ]
    return { subject, extras, captures: capturesOf(store, content, recipeHash) }
  }

  const fileName = (subject: BundleSubject, ending: string): string =>
    `${subject.display.replace(/[^\p{L}\p{N}]+/gu, '-').replace(/^-|-$/g, '') || 'campaign'}-${subject.recipeHash.slice(0, 8)}${ending}`

  return {
    async content(campaignId, recipeHash) {
      const { sweeps, leftOut } = await campaignFigures(store, campaignId, recipeHash, recipes.get(recipeHash))
      const taken = sweeps.map(({ sweep }) => sweep)
      const readings = await store.readings({ campaignId })
      const record = recordValues(recordOf(readings, taken))
      return { points: sweeps.map(({ point }) => point), record, strobe: crosstalkByPlace(readings), leftOut }
    },
    async edges(campaignId, recipeHash, question) {
      const { sweeps } = await campaignFigures(store, campaignId, recipeHash, recipes.get(recipeHash))
      const own = sweeps.filter(({ sweep }) => sweep.refreshHz === question.refreshHz)
      const read = own.map(async ({ sweep }) => ({
        sweep,
        matrix: await store.matrix({ sweepId: sweep.id, recipeHash, measures: ['transition_duration_s'] }),
      }))
      return edgesAt(store, await Promise.all(read), question)
    },
    figures: async (request, chapters) => figureFiles(await document(request, chapters), (svg) => publisher.png(svg)),
    async report(request, form, chapters) {
      const made = await document(request, chapters)
      const bytes = form === 'pdf' ? await publisher.pdf(made) : new TextEncoder().encode(publisher.html(made))
      const name = made.title.replace(/[^\p{L}\p{N}]+/gu, '-').replace(/^-|-$/g, '') || 'report'
      return wholeFile(`${name}.${form}`, bytes)
    },
    async bundleZip(request) {
      const { subject, captures, extras } = await evidence(request)
      return {
        name: fileName(subject, '-bundle.zip'),
        unit: 'bytes',
        total: null,
        pieces: (signal) => publisher.bundleZip(subject, captures, extras, signal),
      }
    },
    async bundle(request, folder, signal) {
      const { subject, captures, extras } = await evidence(request)
      await publisher.bundle(folder, subject, captures, extras, signal)
    },
  }
}

/** Runs of input latency that became readings, with their raw records; nothing where there are none. */
async function latencyOf(
  store: Pick<Store, 'latencyRuns' | 'latencyEvents'>,
  campaignId: number,
): Promise<Pick<BundleSubject, 'latency'>> {
  const runs = (await store.latencyRuns({ campaignId })).filter(({ readingId }) => readingId !== null)
  async function* events(): AsyncGenerator<LatencyEvent> {
    for (const run of runs) yield* eventsOf(store, run)
  }
  return runs.length === 0 ? {} : { latency: { runs, events: events() } }
}

/** A file that is small enough to be made at once. */
function wholeFile(name: string, bytes: Uint8Array): ExportFile {
  return {
    name,
    unit: 'bytes',
    total: bytes.length,
    async *pieces() {
      for (let at = 0; at < bytes.length; at += PIECE_BYTES)
        yield { bytes: bytes.slice(at, at + PIECE_BYTES), done: Math.min(bytes.length, at + PIECE_BYTES) }
    },
  }
}

const ladderOf = ({ steps, darkV, takenAt }: Ladder): BundleSweep['ladder'] => ({
  steps: steps.map(({ level, meanV, sdV, peakToPeakV }) => ({ level, meanV, sdV, peakToPeakV })),
  darkV,
  takenAt,
})

/** Every capture that enters the matrices, in id order, a few at a time. */
async function* capturesOf(
  store: Pick<Store, 'inputs' | 'capturesMeasured'>,
  { sweeps }: CampaignContent,
  recipeHash: string,
): AsyncGenerator<BundleCapture> {
  const entries = sweeps
    .flatMap(({ matrix }) => matrix.cells.flatMap((cell) => cell.entries))
    .sort((a, b) => a.captureId - b.captureId)
  const excluded = new Map(entries.map((entry) => [entry.captureId, entry.excluded]))
  let ids = [...excluded.keys()]
  while (ids.length > 0) {
    const inputs = await store.inputs(ids.slice(0, READ_AT_ONCE))
    if (inputs.length === 0) return
    const known = await store.capturesMeasured({ captureIds: inputs.map(({ captureId }) => captureId), recipeHash })
    for (const [i, { info, result }] of known.entries()) {
      const input = inputs[i] as (typeof inputs)[number]
      yield {
        captureId: input.captureId,
        sweepId: input.sweepId,
        from: input.from,
        to: input.to,
        repeat: info.repeat,
        attempt: info.attempt,
        verdict: info.verdict,
        takenAt: info.takenAt,
        excluded: excluded.get(input.captureId) === true,
        trace: input.trace,
        triggerIndex: input.triggerIndex,
        override: input.override,
        result,
      }
    }
    const last = inputs.at(-1)?.captureId ?? 0
    ids = ids.filter((id) => id > last)
  }
}
