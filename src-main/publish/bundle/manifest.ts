import { createHash } from 'node:crypto'
import { createReadStream } from 'node:fs'
import { lstat, readdir } from 'node:fs/promises'
import { join } from 'node:path'
import { pipeline } from 'node:stream/promises'

/** Lists every other file with its SHA-256, in the form `sha256sum -c` reads. */
export const MANIFEST = 'manifest-sha256.txt'

export async function sha256Of(file: string): Promise<string> {
  const hash = createHash('sha256')
  await pipeline(createReadStream(file), hash)
  return hash.digest('hex')
}

/** All files below a folder, relative with forward slashes, in byte order. Links and devices are listed too: see `isPlain`. */
export async function filesBelow(folder: string, below = ''): Promise<string[]> {
  const entries = await readdir(join(folder, below), { withFileTypes: true })
  const found: string[][] = []
  for (const entry of entries) {
    const path = below === '' ? entry.name : `${below}/${entry.name}`
    found.push(entry.isDirectory() ? await filesBelow(folder, path) : [path])
  }
  return found.flat().sort((a, b) => Buffer.compare(Buffer.from(a), Buffer.from(b)))
}

/** SHA-256 of every plain file below a folder, by path. */
export async function hashesBelow(folder: string): Promise<Map<string, string>> {
  const hashes = new Map<string, string>()
  for (const path of await filesBelow(folder))
    if (await isPlain(folder, path)) hashes.set(path, await sha256Of(join(folder, path)))
  return hashes
}

/** Pipes and devices keep whoever reads them waiting, and a link may lead to one. */
export const isPlain = async (folder: string, path: string): Promise<boolean> =>
  (await lstat(join(folder, path))).isFile()

export const manifestText = (hashes: ReadonlyMap<string, string>): string =>
  [...hashes]
    .sort(([a], [b]) => Buffer.compare(Buffer.from(a), Buffer.from(b)))
    .map(([path, hash]) => `${hash}  ${path}\n`)
    .join('')

/** Problems of a folder against its manifest, one sentence each, with the file; none when it is whole. */
export async function checkManifest(folder: string, text: string): Promise<{ file: string; problem: string }[]> {
  const problems: { file: string; problem: string }[] = []
  const listed = new Map<string, string>()
  const folded = new Set<string>()
  for (const line of text.split('\n')) {
    if (line === '') continue
    const [, hash, path] = /^([0-9a-f]{64}) {2}(.+)$/.exec(line) ?? []
    if (hash === undefined || path === undefined) {
      problems.push({ file: MANIFEST, problem: `A line cannot be read: ${line.slice(0, 80)}` })
    } else if (!isSafe(path)) {
      problems.push({ file: MANIFEST, problem: `A path leads out of the bundle: ${path}` })
    } else if (listed.has(path) || folded.has(path.toLowerCase())) {
      problems.push({ file: path, problem: 'It is listed twice.' })
    } else {
      listed.set(path, hash)
      folded.add(path.toLowerCase())
    }
  }
  const present = await filesBelow(folder)
  for (const path of present) {
    if (path !== MANIFEST && !listed.has(path))
      problems.push({ file: path, problem: 'It is not listed in the manifest.' })
  }
  for (const [path, hash] of listed) {
    if (!present.includes(path)) problems.push({ file: path, problem: 'It is missing.' })
    else if (!(await isPlain(folder, path))) problems.push({ file: path, problem: 'It is not a regular file.' })
    else if ((await sha256Of(join(folder, path))) !== hash) {
      problems.push({ file: path, problem: 'Its content is not what the manifest says.' })
    }
  }
  return problems
}

/** Relative, below the folder, without drive letters or backslashes. */
export const isSafe = (path: string): boolean =>
  path !== '' &&
  !path.startsWith('/') &&
  !/[\\:\0]/.test(path) &&
  !path.split('/').some((part) => part === '..' || part === '')
