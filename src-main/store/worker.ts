/** The store's thread: the only place that touches the database. One request at a time, in order. */
import { parentPort } from 'node:worker_threads'
import { AppError, type ErrorDetail } from '#shared/domain/errors.ts'
import { type Archive, checkpoint, closeArchive, openArchive, openReader, openUntouched } from './archive.ts'
import type { StoreReply, StoreRequest } from './messages.ts'
import { operationNamed } from './operations.ts'
import { salvage } from './salvage.ts'
import { storeError } from './sqlite-errors.ts'

const IDLE_MS = 400

const port = parentPort
if (port === null) throw new Error('The store runs in a worker thread.')

let archive: Archive | null = null
let refusal: ErrorDetail = { code: 'internal', message: 'The archive is not open.', remedy: '' }
let idle: NodeJS.Timeout | null = null
let dirty = false

function opened(): Archive {
  if (archive === null) throw new AppError(refusal.code, refusal.message, refusal.remedy)
  return archive
}

function perform(request: StoreRequest): unknown {
  switch (request.kind) {
    case 'open':
      archive =
        request.readOnly === 'untouched'
          ? openUntouched(request.settings)
          : ((request.readOnly ? openReader(request.settings) : null) ?? openArchive(request.settings))
      return archive.report
    case 'close':
      if (archive !== null) closeArchive(archive)
      archive = null
      refusal = { code: 'conflict', message: 'The archive is closed.', remedy: '' }
      return null
    case 'leave':
      if (archive !== null) closeArchive(archive)
      archive = null
      return null
    case 'salvage':
      return salvage(request.settings)
    case 'call': {
      const open = opened()
      const operation = operationNamed(request.name)
      if (operation === null) throw new AppError('internal', `The archive knows no operation ${request.name}.`)
      open.at = request.at
      return operation(open, ...request.args)
    }
    default:
      throw new AppError('internal', 'The archive does not know this request.')
  }
}

/** Memory that can be handed over instead of copied: the samples of traces. */
function transferable(value: unknown): ArrayBuffer[] {
  if (Array.isArray(value)) return value.flatMap(transferable)
  if (value === null || typeof value !== 'object') return []
  if ('samples' in value && ArrayBuffer.isView(value.samples)) return [value.samples.buffer as ArrayBuffer]
  return 'trace' in value ? transferable(value.trace) : []
}

// Folding the write-ahead log into the file can take long on a slow disk, so it waits for a quiet moment.
function scheduleCheckpoint(): void {
  if (idle !== null) clearTimeout(idle)
  idle = setTimeout(() => {
    idle = null
    if (archive === null || !dirty) return
    dirty = false
    checkpoint(archive)
  }, IDLE_MS)
  idle.unref()
}

port.on('message', (request: StoreRequest) => {
  const started = performance.now()
  let reply: StoreReply
  let transfer: ArrayBuffer[] = []
  try {
    const before = archive?.changes() ?? 0
    const value = perform(request)
    if (archive !== null && !archive.report.readOnly && archive.changes() !== before) dirty = true
    if (request.kind === 'call' && (request.name === 'trace' || request.name === 'inputs'))
      transfer = transferable(value)
    reply = { id: request.id, ms: performance.now() - started, value }
  } catch (error) {
    const detail = storeError(error, archive?.path ?? (request.kind === 'open' ? request.settings.path : ''))
    if (request.kind === 'open') refusal = detail
    reply = { id: request.id, ms: performance.now() - started, error: detail }
  }
  port.postMessage(reply, transfer)
  // A thread that runs out of work frees SQLite in its own time; one that is terminated may be freeing it just then.
  if (request.kind === 'leave') port.close()
  else if (dirty) scheduleCheckpoint()
})
