import { mkdtemp, mkdir, readFile, rm, stat, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { unzipSync } from 'fflate'
import type { VerifyReport } from '#shared/domain/bundle.ts'
import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import { isDiskFull } from '#main/core/disk-full.ts'
import { isSafe } from './manifest.ts'
import { verifyFolder, type VerifyOptions } from './verify.ts'

/** Of all files of a zip together; one that we write holds less. Beyond this it is no bundle but an attack. */
const MOST_BYTES = 2.2e9
/** Of a file that is deflated, and so could be far longer than it looks; ours are stored as they are. */
const MOST_DEFLATED_BYTES = 256 * 2 ** 20
const MOST_FILES = 5000

/** A bundle as a folder or a zip; a zip is unpacked beside nothing of the person's and removed again. */
export async function verifyBundle(path: string, options: VerifyOptions): Promise<VerifyReport> {
  const info = await stat(path).catch(() => null)
  if (info === null) throw new AppError('import-unreadable', `${path} is not there.`)
  if (info.isDirectory()) return verifyFolder(path, options)
  if (!info.isFile()) throw new AppError('import-unreadable', `${path} is neither a folder nor a file.`)
  // Named after this process: where it is killed, the next host clears it away.
  const home = await mkdtemp(join(tmpdir(), `slewlight-verify-${process.pid}-`))
  try {
    await unpack(path, info.size, home)
    return await verifyFolder(home, options)
  } finally {
    await rm(home, { recursive: true, force: true })
  }
}

/** One file of the zip after the other, so that no more than one is in memory unpacked. */
async function unpack(path: string, size: number, home: string): Promise<void> {
  try {
    if (size > MOST_BYTES) throw new Error('it is larger than any bundle in a zip')
    const zip = await readFile(path)
    const names = namesIn(zip)
    for (const name of names) {
      if (name.endsWith('/')) continue
      if (!isSafe(name)) throw new Error(`a path in it leads out of it: ${name}`)
      const { [name]: bytes } = unzipSync(zip, { filter: (file) => file.name === name })
      await mkdir(dirname(join(home, name)), { recursive: true })
      if (bytes !== undefined) await writeFile(join(home, name), bytes, { flag: 'wx' })
    }
  } catch (error) {
    if (isDiskFull(error))
      throw new AppError(
        'archive-disk-full',
        'The disk for temporary files is full; the zip was not unpacked.',
        'Free space there, or unpack the zip elsewhere and verify the folder.',
        { cause: error },
      )
    throw new AppError(
      'import-unreadable',
      `${path} cannot be read as a zip: ${toErrorDetail(error).message}.`,
      'Unpack it with another program and verify the folder.',
      { cause: error },
    )
  }
}

/** Names of the files in a zip, none unpacked. Throws where it would unpack to more than a bundle is. */
function namesIn(zip: Uint8Array): ReadonlySet<string> {
  const names = new Set<string>()
  let bytes = 0
  unzipSync(zip, {
    filter({ name, size, originalSize, compression }) {
      // A file that is stored is as long as it is, whatever it says of itself.
      bytes += Math.max(size, originalSize)
      if (bytes > MOST_BYTES || (compression !== 0 && originalSize > MOST_DEFLATED_BYTES))
        throw new Error(`it unpacks to more than a bundle holds (${name})`)
      if (names.has(name)) throw new Error(`it has two files named ${name}`)
      names.add(name)
      if (names.size > MOST_FILES) throw new Error(`it has more than ${MOST_FILES} files`)
      return false
    },
  })
  return names
}
