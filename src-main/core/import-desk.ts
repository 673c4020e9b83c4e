/** Imports as a person makes them: files are brought over in pieces, looked at, and imported as a job. */
import type { CaptureInfo } from '#shared/domain/capture.ts'
import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import type { ImportReport, ImportRequest, ImportSummary } from '#shared/domain/import.ts'
import { decodeText } from '#shared/import/decode.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import type { Answer, Parsed } from './facade.ts'
import type { Contract } from '#shared/contract/contract.ts'
import type { Hub } from './hub.ts'
import { commitImport, previewImport, refuseUnusable } from './import.ts'
import type { Jobs } from './jobs.ts'
import type { Clock, Staging, Store } from './ports.ts'
import type { RecipeBook } from './recipes.ts'

type Files = Contract['files']

export interface ImportDeskDeps {
  readonly store: Store
  readonly clock: Clock
  readonly hub: Hub
  readonly jobs: Jobs
  readonly staging: Staging
  readonly recipes: Pick<RecipeBook, 'current' | 'currentHash'>
  /** Flags that only show when captures of one sweep are put side by side. */
  readonly compareCaptures: (sweepId: CaptureInfo['sweepId'], recipeHash: string) => Promise<void>
}

export interface ImportDesk {
  stage(input: Parsed<Files['stage']>): Promise<Answer<Files['stage']>>
  unstage(input: Parsed<Files['unstage']>): Promise<null>
  importPreview(input: Parsed<Files['importPreview']>): Promise<Answer<Files['importPreview']>>
  importStart(input: Parsed<Files['importStart']>): Promise<{ jobId: string }>
  importReport(input: Parsed<Files['importReport']>): Promise<ImportReport>
  /** The same import at once, for callers in this process; answers when all is stored and compared. */
  importCommit(request: ImportRequest, signal?: AbortSignal): Promise<ImportSummary>
  /** Says in their reason which imports the program's end cut off. */
  recover(): Promise<void>
}

/** Reports of older imports are forgotten; their sweeps and the event log stay. */
const REPORTS_KEPT = 20

export function createImportDesk(deps: ImportDeskDeps): ImportDesk {
  const { store, clock, hub, jobs, staging, recipes, compareCaptures } = deps
  const reports = new Map<string, ImportReport>()

  const keep = (report: ImportReport): void => {
    reports.delete(report.jobId)
    reports.set(report.jobId, report)
    for (const id of reports.keys()) if (reports.size > REPORTS_KEPT) reports.delete(id)
  }

  async function commit(
    request: ImportRequest,
    signal: AbortSignal | undefined,
    onProgress?: Parameters<typeof commitImport>[0]['onProgress'],
  ): Promise<ImportSummary> {
    // What is measured and what is compared must be the same recipe, whichever is chosen meanwhile.
    const recipe = recipes.current()
    const hash = recipes.currentHash()
    const progress = onProgress === undefined ? {} : { onProgress }
    try {
      const summary = await commitImport(
        { store, clock, recipe, measure: measureCapture, ...progress },
        request,
        signal,
      )
      await compareCaptures(summary.sweepId, hash)
      const stored = `${summary.captures} of ${request.files.length} recordings are imported.`
      await hub.note('info', stored, summary.sweepId)
      return summary
    } finally {
      hub.emit({ kind: 'changed', what: 'sweeps' })
    }
  }

  async function runJob(
    jobId: string,
    request: ImportRequest,
    report: (done: number, total: number, leftS: number | null) => void,
    signal: AbortSignal,
  ): Promise<void> {
    const startedAt = clock.now()
    const update = (change: Partial<ImportReport>): void => {
      const known = reports.get(jobId)
      if (known !== undefined) keep({ ...known, ...change })
    }
    try {
      const summary = await commit(request, signal, ({ done, ...soFar }) => {
        update(soFar)
        const left = request.files.length - done
        report(done, request.files.length, ((clock.now() - startedAt) / done) * left)
      })
      update({ ...summary, state: 'finished' })
    } catch (error) {
      update({ state: signal.aborted ? 'cancelled' : 'failed', failure: toErrorDetail(error) })
      throw error
    }
  }

  return {
    stage: ({ fileId, bytes }) => staging.append(fileId, bytes).then((id) => ({ fileId: id })),
    unstage: async ({ fileIds }) => {
      await staging.discard(fileIds)
      return null
    },
    importPreview: async ({ fileId, name, mapping, columns }) =>
      previewImport(clock, name, decodeText(await staging.read(fileId)), mapping, columns),
    importStart: async ({ files, ...about }) => {
      refuseUnusable(files)
      const known = (await store.campaigns()).some(({ id }) => id === about.campaignId)
      if (!known)
        throw new AppError('not-found', `Campaign ${about.campaignId} is not in the archive.`, 'Choose another one.')
      const request: ImportRequest = {
        ...about,
        files: files.map(({ fileId, ...file }) => ({
          ...file,
          text: async () => decodeText(await staging.read(fileId)),
        })),
      }
      const label = `Import of ${files.length} recordings, ${about.setting} at ${about.refreshHz} Hz`
      const jobId: string = jobs.start('import', label, async (report, signal) => {
        // The job's number is known once it was started.
        await Promise.resolve()
        await runJob(jobId, request, report, signal)
        return ''
      })
      keep({
        jobId,
        state: 'running',
        campaignId: about.campaignId,
        files: files.length,
        sweepId: null,
        captures: 0,
        good: 0,
        problems: [],
        failure: null,
      })
      return { jobId }
    },
    importReport: async ({ jobId }) => {
      const report = reports.get(jobId)
      if (report === undefined)
        throw new AppError('not-found', 'This import is no longer known.', 'Look for its sweep in the list.')
      return report
    },
    importCommit: (request, signal) => commit(request, signal),
    async recover() {
      for (const sweep of await store.sweeps({ includeHidden: true }))
        if (sweep.origin === 'imported' && sweep.hidden && sweep.state === 'ready')
          await store.setSweepState(
            sweep.id,
            'stopped',
            `The program ended during this import; ${sweep.done} of ${sweep.total} recordings are stored.`,
          )
    },
  }
}
