/** The library of archives as the program composes it, its list in memory. */
import { createLibraryReader } from '#main/core/library-reader.ts'
import type { LibraryOptions } from '#main/core/library.ts'
import type { Analyzer } from '#main/core/ports.ts'
import { archivesIn, createOtherArchives, locateArchive } from '#main/store/other-archives.ts'
import { createStoreWorker } from './workers.ts'

const SILENT = { info: () => undefined, warn: () => undefined, error: () => undefined }

export function libraryWith(
  analyzer: Analyzer,
  change: Partial<Pick<LibraryOptions, 'adding'>> & { readonly folders?: readonly string[] } = {},
): LibraryOptions {
  let paths: readonly string[] = []
  const clock = { iso: () => '2031-01-01T00:00:00.000Z' }
  return {
    reader: createLibraryReader({
      analyzer,
      others: createOtherArchives({ createWorker: createStoreWorker, clock, log: SILENT }),
    }),
    kept: {
      read: async () => paths,
      write: async (next) => {
        paths = next
      },
    },
    locate: locateArchive,
    known: () => archivesIn(change.folders ?? []),
    adding: change.adding ?? 'path',
  }
}
