/** A folder as one zip, made while it is read: no more of it than a piece is in memory. */
import { createReadStream } from 'node:fs'
import { stat } from 'node:fs/promises'
import { join } from 'node:path'
import { Zip, ZipPassThrough } from 'fflate'
import type { FilePiece } from '#main/core/ports.ts'
import { AppError } from '#shared/domain/errors.ts'
import { filesBelow } from './manifest.ts'

/** The earliest time a zip can hold, in the zone of the machine as zip files have it, so that it is the same everywhere. */
const ZIP_TIME = new Date(1980, 0, 1)
/** What `verify` reads at once; a plain zip would hold twice that (sizes of 32 bits, APPNOTE 4.4.1.4). */
const MOST_BYTES = 2 ** 31 - 2 ** 24
const PIECE_BYTES = 256 * 1024

/**
 * Files in the order of their paths. Stored, not deflated: what is large is compressed already, and every version of the
 * library makes the same bytes. Rejects with `conflict` when the folder is larger than a zip may be.
 */
export async function* zipOf(folder: string, signal?: AbortSignal): AsyncGenerator<FilePiece, void> {
  const paths = await filesBelow(folder)
  const sizes = await Promise.all(paths.map(async (path) => (await stat(join(folder, path))).size))
  const total = sizes.reduce((sum, size) => sum + size, 0)
  if (total > MOST_BYTES)
    throw new AppError(
      'conflict',
      `The bundle is ${(total / 1e9).toFixed(1)} GB; at most 2.1 GB can be checked as a zip.`,
      'Write it as a folder: slewlight bundle --out FOLDER.',
    )
  let ready: Uint8Array[] = []
  let failure: Error | null = null
  const zip = new Zip((error, bytes) => {
    if (error) failure = error
    else ready.push(bytes)
  })
  let done = 0
  const taken = function* (): Generator<FilePiece> {
    if (failure !== null) throw failure
    const pieces = ready
    ready = []
    for (const bytes of pieces) {
      done += bytes.length
      yield { bytes, done }
    }
  }
  for (const path of paths) {
    const entry = new ZipPassThrough(path)
    entry.mtime = ZIP_TIME
    zip.add(entry)
    for await (const bytes of createReadStream(join(folder, path), { highWaterMark: PIECE_BYTES })) {
      if (signal?.aborted === true) throw new AppError('cancelled', 'Stopped.')
      entry.push(new Uint8Array(bytes as Buffer))
      yield* taken()
    }
    entry.push(new Uint8Array(), true)
    yield* taken()
  }
  zip.end()
  yield* taken()
}
