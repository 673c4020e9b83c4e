import type { Archive } from '../archive.ts'

/** Copies the whole archive, as it is at this moment, to a file that must not be there yet. */
export function copyTo(archive: Archive, { path }: { readonly path: string }): null {
  archive.sql('VACUUM INTO ?').run(path)
  return null
}
