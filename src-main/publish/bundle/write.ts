import { mkdir, open, rename, rm, stat, writeFile } from 'node:fs/promises'
import { dirname, join } from 'node:path'
import { stringify } from 'csv-stringify/sync'
import { fileWriter } from 'hyparquet-writer'
import type { BundleCapture, BundleExtra, BundleSubject } from '#shared/domain/bundle.ts'
import { AppError } from '#shared/domain/errors.ts'
import { isDiskFull } from '#main/core/disk-full.ts'
import { crateMetadata, METADATA, type CrateFile, type CrateSubject } from './crate.ts'
import { LATENCY_EVENTS, LATENCY_RUNS, writeLatency } from './latency.ts'
import { hashesBelow, MANIFEST, manifestText, sha256Of } from './manifest.ts'
import { csvText, RESULT_COLUMNS, resultRow, resultTable, traceRow, traceTable } from './tables.ts'

const NAMES: Readonly<Record<string, readonly [name: string, encodingFormat: string]>> = {
  'recipe.json': ['Recipe', 'application/json'],
  'data/sweeps.json': ['Sweeps: settings, refresh rates, ladders', 'application/json'],
  'data/results.csv': ['Results of every capture', 'text/csv'],
  'data/results.parquet': ['Results of every capture', 'application/vnd.apache.parquet'],
  'data/archive.json': ['Extract of the archive: plans, reviews, readings, log', 'application/json'],
  'data/traces.parquet': ['Raw traces', 'application/vnd.apache.parquet'],
  [LATENCY_RUNS]: ['Runs of input latency', 'application/json'],
  [LATENCY_EVENTS]: ['Raw records of input latency', 'application/vnd.apache.parquet'],
}

/** Captures in one row group: some 3 MB of samples at 15,000 a capture. */
const GROUP = 100

/**
 * Writes a bundle into a folder that must not exist yet; it is there whole or not at all. The same subject, captures and
 * extra files give the same bytes. Rejects with `conflict` when the folder exists, `cancelled` when stopped,
 * `archive-disk-full` when the disk is.
 */
export async function writeBundle(
  folder: string,
  subject: BundleSubject,
  captures: AsyncIterable<BundleCapture>,
  extras: readonly BundleExtra[],
  signal?: AbortSignal,
): Promise<void> {
  if (await exists(folder)) throw new AppError('conflict', `${folder} already exists.`, 'Choose another name.')
  const partial = `${folder}.partial`
  await rm(partial, { recursive: true, force: true })
  try {
    await mkdir(join(partial, 'data'), { recursive: true })
    await writeFile(join(partial, 'recipe.json'), json(subject.recipe))
    await writeFile(join(partial, 'data/sweeps.json'), json(subject.sweeps))
    await writeTables(partial, subject, captures, signal)
    if (subject.latency !== undefined) await writeLatency(partial, subject.latency, signal)
    for (const { path, bytes } of extras) {
      await mkdir(dirname(join(partial, path)), { recursive: true })
      await writeFile(join(partial, path), bytes)
    }
    await describe(partial, subject, extras)
    await rename(partial, folder)
  } catch (error) {
    await rm(partial, { recursive: true, force: true })
    if (!isDiskFull(error)) throw error
    throw new AppError(
      'archive-disk-full',
      `The disk of ${dirname(folder)} is full; no bundle was written.`,
      'Free space there and save the bundle again.',
      { cause: error },
    )
  }
}

async function writeTables(
  folder: string,
  subject: BundleSubject,
  captures: AsyncIterable<BundleCapture>,
  signal: AbortSignal | undefined,
): Promise<void> {
  const results = resultTable(fileWriter(join(folder, 'data/results.parquet')))
  const traces = traceTable(fileWriter(join(folder, 'data/traces.parquet')))
  const csv = await open(join(folder, 'data/results.csv'), 'w')
  try {
    await csv.appendFile(csvLines([RESULT_COLUMNS.map(({ name }) => name)]))
    const sweepById = new Map(subject.sweeps.map((sweep) => [sweep.id, sweep]))
    let group: BundleCapture[] = []
    const flush = async (): Promise<void> => {
      if (group.length === 0) return
      const rows = group.map((capture) => {
        const sweep = sweepById.get(capture.sweepId)
        if (sweep === undefined) throw new AppError('internal', `Capture ${capture.captureId} has no sweep.`)
        return resultRow(capture, sweep)
      })
      await results.write(rows)
      await traces.write(group.map(traceRow))
      await csv.appendFile(csvLines(rows.map((row) => RESULT_COLUMNS.map(({ name }) => csvText(row[name])))))
      group = []
    }
    for await (const capture of captures) {
      if (signal?.aborted === true) throw new AppError('cancelled', 'Stopped.')
      group.push(capture)
      if (group.length === GROUP) await flush()
    }
    await flush()
    await results.finish()
    await traces.finish()
  } finally {
    await csv.close()
  }
}

/** Metadata of the files, then the list of their hashes, which holds the metadata's own. */
async function describe(folder: string, subject: BundleSubject, extras: readonly BundleExtra[]): Promise<void> {
  const hashes = await hashesBelow(folder)
  await writeFile(join(folder, METADATA), await metadataText(folder, subject, extras, hashes))
  hashes.set(METADATA, await sha256Of(join(folder, METADATA)))
  await writeFile(join(folder, MANIFEST), manifestText(hashes))
}

/** RO-Crate metadata of all files of a folder but itself and the manifest; files are read unless their hashes are known. */
export async function metadataText(
  folder: string,
  subject: CrateSubject,
  extras: readonly Pick<BundleExtra, 'path' | 'name' | 'encodingFormat'>[],
  hashes?: ReadonlyMap<string, string>,
): Promise<string> {
  const named = new Map(extras.map(({ path, name, encodingFormat }) => [path, [name, encodingFormat] as const]))
  const files: CrateFile[] = []
  for (const [path, sha256] of hashes ?? (await hashesBelow(folder))) {
    if (path === METADATA || path === MANIFEST) continue
    const [name, encodingFormat] = named.get(path) ?? NAMES[path] ?? [path, 'application/octet-stream']
    files.push({ path, name, encodingFormat, sha256, bytes: (await stat(join(folder, path))).size })
  }
  return crateMetadata(subject, files)
}

const json = (value: unknown): string => `${JSON.stringify(value, null, 2)}\n`
const csvLines = (rows: readonly (readonly string[])[]): string =>
  stringify(
    rows.map((row) => [...row]),
    { record_delimiter: 'windows', quoted_match: /[\r\n]/ },
  )

async function exists(path: string): Promise<boolean> {
  return stat(path).then(
    () => true,
    () => false,
  )
}
