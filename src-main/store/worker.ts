/** The store's thread: the only place that touches the database. One request at a time, in order. */
import { parentPort } from 'node:worker_threads'
import { AppError, type ErrorDetail } from '#shared/domain/errors.ts'
import { serveCalls } from '#main/threads/serve.ts'
import {
  type Archive,
  type ArchiveSettings,
  checkpoint,
  closeArchive,
  openArchive,
  openReader,
  type OpenReport,
  openUntouched,
} from './archive.ts'
import { operationNamed } from './operations.ts'
import { salvage, type SalvageSettings } from './salvage.ts'
import type { SalvageReport } from './salvage-report.ts'
import { storeError } from './sqlite-errors.ts'

const IDLE_MS = 400

if (parentPort === null) throw new Error('The store runs in a worker thread.')

let archive: Archive | null = null
let path = ''
let refusal: ErrorDetail = { code: 'internal', message: 'The archive is not open.', remedy: '' }
let idle: NodeJS.Timeout | null = null
let dirty = false

const calls = {
  open(settings: ArchiveSettings, readOnly: boolean | 'untouched'): OpenReport {
    path = settings.path
    try {
      archive =
        readOnly === 'untouched'
          ? openUntouched(settings)
          : ((readOnly ? openReader(settings) : null) ?? openArchive(settings))
    } catch (error) {
      refusal = storeError(error, path)
      throw error
    }
    changedSince(0, archive)
    return archive.report
  },
  close(): void {
    leave()
    refusal = { code: 'conflict', message: 'The archive is closed.', remedy: '' }
  },
  salvage(settings: SalvageSettings): SalvageReport {
    path = settings.path
    return salvage(settings)
  },
  /** An operation of the table; `at` is the wall-clock time of the request, ISO 8601 UTC. */
  operate(name: string, at: string, args: readonly unknown[]): unknown {
    if (archive === null) throw new AppError(refusal.code, refusal.message, refusal.remedy)
    const operation = operationNamed(name)
    if (operation === null) throw new AppError('internal', `The archive knows no operation ${name}.`)
    archive.at = at
    const before = archive.changes()
    const value = operation(archive, ...args)
    changedSince(before, archive)
    return value
  },
}
export type StoreCalls = typeof calls

function leave(): void {
  if (archive !== null) closeArchive(archive)
  archive = null
}

// Folding the write-ahead log into the file can take long on a slow disk, so it waits for a quiet moment.
function changedSince(before: number, open: Archive): void {
  if (!open.report.readOnly && open.changes() !== before) dirty = true
  if (!dirty) return
  if (idle !== null) {
    idle.refresh()
    return
  }
  idle = setTimeout(() => {
    idle = null
    if (archive === null || !dirty) return
    dirty = false
    checkpoint(archive)
  }, IDLE_MS)
  idle.unref()
}

/** Memory that can be handed over instead of copied: the samples of traces. */
function transferable(value: unknown): ArrayBuffer[] {
  if (Array.isArray(value)) return value.flatMap(transferable)
  if (value === null || typeof value !== 'object') return []
  if ('samples' in value && ArrayBuffer.isView(value.samples)) return [value.samples.buffer as ArrayBuffer]
  return 'trace' in value ? transferable(value.trace) : []
}

serveCalls(parentPort, calls, {
  detail: (error) => storeError(error, path),
  transfer: (_name, [operation], value) => (operation === 'trace' || operation === 'inputs' ? transferable(value) : []),
  leave,
})
