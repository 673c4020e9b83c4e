/** Files made for a person, each a job that is seen and can be cancelled while it is read. */
import type { ExportRequest } from '#shared/contract/exports.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { Publishing } from './campaign/publish.ts'
import type { Jobs } from './jobs.ts'
import type { Exporter, ExportFile, FilePiece } from './ports.ts'

export interface ExportDeps {
  readonly exporter: Exporter
  readonly publishing: Publishing
  readonly jobs: Jobs
}

/** Files being made at a time: each may hold a temporary copy on the disk. */
const MOST = 4

/** Opens a file for reading. Rejects with `conflict` while too many are being made. */
export function createExports({
  exporter,
  publishing,
  jobs,
}: ExportDeps): (request: ExportRequest) => Promise<ExportFile> {
  let opening = 0

  function fileOf(request: ExportRequest): Promise<ExportFile> {
    if (request.what === 'report') return publishing.report(request, request.form, request.chapters)
    if (request.what === 'bundle') return publishing.bundleZip(request)
    return exporter.table(request)
  }

  /** The same pieces; a person may stop them, and whoever reads may leave. */
  async function* followed(file: ExportFile, signal?: AbortSignal): AsyncGenerator<FilePiece, void> {
    const job = jobs.open('export', `Saving ${file.name}`, { name: file.name, bytes: 0 })
    const stop = new AbortController()
    const forward = (): void => stop.abort()
    job.signal.addEventListener('abort', forward)
    signal?.addEventListener('abort', forward)
    if (signal?.aborted === true) stop.abort()
    let bytes = 0
    let whole = false
    try {
      for await (const piece of file.pieces(stop.signal)) {
        if (stop.signal.aborted) throw new AppError('cancelled', 'The export was cancelled.')
        bytes += piece.bytes.length
        job.result({ bytes })
        job.progress(piece.done, file.total ?? 0)
        yield piece
      }
      whole = true
      job.end()
    } catch (error) {
      job.fail(error)
      throw error
    } finally {
      // A reader that leaves ends this generator where it stands, without an error.
      if (!whole) job.fail(new AppError('cancelled', 'The export was cancelled.'))
      job.signal.removeEventListener('abort', forward)
      signal?.removeEventListener('abort', forward)
    }
  }

  return async (request) => {
    if (opening + jobs.running('export') >= MOST)
      throw new AppError('conflict', `${MOST} files are being saved already.`, 'Wait for one of them, or cancel it.')
    opening += 1
    try {
      const file = await fileOf(request)
      return { ...file, pieces: (signal) => followed(file, signal) }
    } finally {
      opening -= 1
    }
  }
}
