import { join } from 'node:path'
import envPaths from 'env-paths'

/** Where the program keeps things when nobody says otherwise, by the rules of the operating system. */
export function standardPaths(): { readonly archive: string; readonly library: string; readonly logFolder: string } {
  const { data, log } = envPaths('slewlight', { suffix: '' })
  return { archive: join(data, 'archive.sqlite'), library: join(data, 'library.json'), logFolder: log }
}
