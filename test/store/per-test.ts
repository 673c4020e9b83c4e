import { join } from 'node:path'
import { afterEach, beforeEach } from 'vitest'
import type { Store } from '../../src-main/core/ports.ts'
import { openTestStore, temporaryFolder } from './fixtures.ts'

/** A folder for each test of a file, removed after it, and the path of an archive in it. */
export function archivePerTest(name = 'archive.slewlight'): { readonly folder: string; readonly path: string } {
  let folder = { path: '', remove: (): void => undefined }
  beforeEach(() => {
    folder = temporaryFolder()
  })
  afterEach(() => {
    folder.remove()
  })
  return {
    get folder() {
      return folder.path
    },
    get path() {
      return join(folder.path, name)
    },
  }
}

/** An open archive for each test of a file; a test may close it and open it again. */
export function storePerTest(name?: string): { readonly path: string; store: Store } {
  const archive = archivePerTest(name)
  let store: Store | null = null
  beforeEach(async () => {
    store = await openTestStore(archive.path)
  })
  afterEach(() => store?.close())
  return {
    get path() {
      return archive.path
    },
    get store() {
      if (store === null) throw new Error('The archive is open within a test only.')
      return store
    },
    set store(next: Store) {
      store = next
    },
  }
}
