import { mkdtemp, mkdir, readFile, rm, stat, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { unzipSync } from 'fflate'
import type { VerifyReport } from '#shared/domain/bundle.ts'
import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import { isSafe } from './manifest.ts'
import { verifyFolder, type VerifyOptions } from './verify.ts'

/** Beyond this a zip is no bundle but an attack. */
const MOST_BYTES = 8e9

/** A bundle as a folder or a zip; a zip is unpacked beside nothing of the person's and removed again. */
export async function verifyBundle(path: string, options: VerifyOptions): Promise<VerifyReport> {
  const info = await stat(path).catch(() => null)
  if (info === null) throw new AppError('import-unreadable', `${path} is not there.`)
  if (info.isDirectory()) return verifyFolder(path, options)
  if (!info.isFile()) throw new AppError('import-unreadable', `${path} is neither a folder nor a file.`)
  const home = await mkdtemp(join(tmpdir(), 'slewlight-verify-'))
  try {
    for (const [name, bytes] of Object.entries(await unzipped(path))) {
      if (name.endsWith('/')) continue
      if (!isSafe(name)) throw new AppError('import-unreadable', `A path in the zip leads out of it: ${name}`)
      await mkdir(dirname(join(home, name)), { recursive: true })
      await writeFile(join(home, name), bytes, { flag: 'wx' })
    }
    return await verifyFolder(home, options)
  } finally {
    await rm(home, { recursive: true, force: true })
  }
}

async function unzipped(path: string): Promise<Record<string, Uint8Array>> {
  let bytes = 0
  try {
    return unzipSync(await readFile(path), {
      filter({ originalSize }) {
        bytes += originalSize
        if (bytes > MOST_BYTES) throw new Error('it unpacks to more than 8 GB')
        return true
      },
    })
  } catch (error) {
    throw new AppError('import-unreadable', `${path} cannot be read as a zip: ${toErrorDetail(error).message}`)
  }
}
