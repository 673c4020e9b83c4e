/** Imports as a person makes them: files are brought over in pieces, looked at, and imported as a job. */
import type { CaptureInfo } from '#shared/domain/capture.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { ImportRequest, ImportSummary } from '#shared/domain/import.ts'
import { decodeText } from '#shared/import/decode.ts'
import type { Answer, Parsed } from './facade.ts'
import type { Contract } from '#shared/contract/contract.ts'
import type { Hub } from './hub.ts'
import { commitImport, previewImport, refuseUnusable } from './import.ts'
import type { Job, Jobs } from './jobs.ts'
import type { Measure } from './measure-apart.ts'
import type { Clock, Staging, Store } from './ports.ts'
import type { RecipeBook } from './recipes.ts'

type Files = Contract['files']

export interface ImportDeskDeps {
  readonly store: Store
  readonly clock: Clock
  readonly hub: Hub
  readonly jobs: Jobs
  readonly measure: Measure
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
  /** The same import at once, for callers in this process; answers when all is stored and compared. */
  importCommit(request: ImportRequest, signal?: AbortSignal): Promise<ImportSummary>
  /** Says in their reason which imports the program's end cut off. */
  recover(): Promise<void>
}

export function createImportDesk(deps: ImportDeskDeps): ImportDesk {
  const { store, clock, hub, jobs, measure, staging, recipes, compareCaptures } = deps
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
      const summary = await commitImport({ store, clock, recipe, measure, ...progress }, request, signal)
      await compareCaptures(summary.sweepId, hash)
      const stored = `${summary.captures} of ${request.files.length} recordings are imported.`
      await hub.note('info', stored, summary.sweepId)
      return summary
    } finally {
      hub.emit({ kind: 'changed', what: 'sweeps' })
    }
  }

  async function runJob(request: ImportRequest, job: Job<'import'>): Promise<string> {
    const summary = await commit(request, job.signal, ({ done, ...soFar }) => {
      job.result(soFar)
      job.progress(done, request.files.length)
    })
    job.result(summary)
    return ''
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
      const nothing = { campaignId: about.campaignId, files: files.length, sweepId: null, captures: 0, good: 0 }
      const jobId = jobs.start('import', label, { ...nothing, problems: [] }, (job) => runJob(request, job))
      return { jobId }
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
