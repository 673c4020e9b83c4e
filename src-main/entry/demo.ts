/** The demo library: an archive of its own with invented displays, made once and kept. */
import { existsSync, mkdirSync, mkdtempSync, renameSync, rmSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { availableParallelism } from 'node:os'
import { createPool } from '#main/analysis/pool.ts'
import { DEMO } from '#main/core/demo/content.ts'
import { fillDemo } from '#main/core/demo/fill.ts'
import type { Log } from '#main/core/ports.ts'
import { removeAbandoned } from '#main/platform/abandoned.ts'
import { createClock } from '#main/platform/clock.ts'
import { standardPaths } from '#main/platform/paths.ts'
import { createDemoBench } from '#main/rig/simulated/demo-bench.ts'
import { ALGORITHM } from '#shared/domain/result.ts'
import { openArchive } from './compose.ts'
import { createAnalysisWorker } from './workers.ts'

/** Raised when the library's content changes. */
const EDITION = 2

export interface DemoOptions {
  readonly log: Log
  /** Folder it is kept in; beside the person's own archive when absent. */
  readonly folder?: string
  readonly onProgress?: (done: number, total: number) => void
  readonly signal?: AbortSignal
}

/** A new version of the measuring code has a library of its own: its numbers would differ. */
export function demoArchive(folder = join(dirname(standardPaths().archive), 'demo')): string {
  return join(folder, `demo-${EDITION}-${ALGORITHM}.sqlite`)
}

/**
 * Path of the demo library, which is made first where it is not there yet. It appears whole or not at all. Rejects as
 * `openStore` does, and with `cancelled`.
 */
export async function readyDemo({ log, folder, onProgress, signal }: DemoOptions): Promise<string> {
  const path = demoArchive(folder)
  if (existsSync(path)) return path
  mkdirSync(dirname(path), { recursive: true })
  await removeAbandoned(dirname(path), (name) => Number(/^making-(\d+)-/.exec(name)?.[1] ?? NaN) || null)
  const making = mkdtempSync(join(dirname(path), `making-${process.pid}-`))
  try {
    const draft = join(making, 'demo.sqlite')
    const clock = createClock()
    const store = await openArchive({ archive: draft, log, clock })
    // Nothing is measured on a rig meanwhile: every processor may help.
    const analyzer = createPool({ size: availableParallelism(), createWorker: createAnalysisWorker, log })
    try {
      await fillDemo({
        store,
        analyzer,
        clock,
        benchOf: createDemoBench,
        library: DEMO,
        signal,
        ...(onProgress ? { onProgress } : {}),
      })
    } finally {
      await analyzer.close()
      await store.close()
    }
    // Another program may have been faster; what it made is as good, and may be open already.
    if (!existsSync(path)) renameSync(draft, path)
  } finally {
    rmSync(making, { recursive: true, force: true })
  }
  return path
}
