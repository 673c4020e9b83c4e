/** The archives whose displays are set side by side: the one in use and those a person added to it. */
import { plural } from '#shared/domain/quantity-text.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import { fileNameOf, type Library } from '#shared/findings/campaign/library.ts'
import { campaignsOf } from './campaign/findings.ts'
import type { Hub } from './hub.ts'
import type { Jobs } from './jobs.ts'
import type { LibraryReader } from './library-reader.ts'
import type { KeptPaths, Store } from './ports.ts'
import type { RecipeBook } from './recipes.ts'

/** More than anybody compares; each is asked for its state whenever the list is drawn. */
const MOST = 60

export interface LibraryOptions {
  readonly reader: LibraryReader
  readonly kept: KeptPaths
  /** The path as it is kept: absolute and without links. Rejects with `not-found` or `invalid-input`. */
  readonly locate: (path: string) => Promise<string>
  /** Archives the host knows of by itself. */
  readonly known: () => Promise<readonly string[]>
  /** Whether a page may name any path; where a file dialog does, only known ones. */
  readonly adding: Library['adding']
}

export interface LibraryDesk {
  list(recipeHash: string): Promise<Library>
  /** Answers how many are new. Rejects with `conflict` for the archive in use, and where a page may not name it. */
  add(path: string): Promise<number>
  /** Chosen in the host's own dialog. */
  addChosen(paths: readonly string[]): Promise<number>
  remove(path: string): Promise<void>
  /** Measures what an archive lacks under a recipe on a copy of it; answers with the job's id. */
  measure(path: string, recipeHash: string): Promise<string>
}

/** The archive in use, and the paths that were added. */
interface Shelf {
  readonly open: string
  readonly before: readonly string[]
}

export function createLibrary(
  deps: LibraryOptions & {
    readonly store: Store
    readonly recipes: Pick<RecipeBook, 'get'>
    readonly jobs: Jobs
    readonly hub: Hub
  },
): LibraryDesk {
  const { store, recipes, jobs, hub, reader, kept, locate, known, adding } = deps
  const announce = (): void => hub.emit({ kind: 'changed', what: 'library' })
  /** As kept paths are written, so that it is known among them. */
  const openPath = async (): Promise<string> => {
    const { path } = await store.info()
    // One that was moved while it is in use is still read.
    return locate(path).catch(() => path)
  }
  const shelf = async (): Promise<Shelf> => ({ open: await openPath(), before: await kept.read() })
  const othersOf = ({ open, before }: Shelf): string[] => before.filter((path) => path !== open)
  const candidatesOf = async ({ open, before }: Shelf): Promise<string[]> => {
    const taken = new Set([open, ...before])
    return [...new Set(await known())].filter((path) => !taken.has(path))
  }

  async function include(paths: readonly string[]): Promise<number> {
    const { open, before } = await shelf()
    const located = await Promise.all(paths.map(locate))
    const fresh = [...new Set(located)].filter((path) => !before.includes(path))
    if (fresh.includes(open))
      throw new AppError('conflict', 'That is the archive in use; its displays are compared anyway.')
    if (before.length + fresh.length > MOST)
      throw new AppError('conflict', `The library holds ${MOST} archives at most.`, 'Take some out first.')
    await kept.write([...before, ...fresh])
    announce()
    return fresh.length
  }

  async function own(path: string, recipeHash: string, recipe: Recipe): Promise<Library['archives'][number]> {
    const campaigns = await campaignsOf(store, recipeHash, recipe)
    return { path, name: fileNameOf(path), isOpen: true, problem: null, campaigns }
  }

  return {
    async list(recipeHash) {
      const recipe = recipes.get(recipeHash)
      const found = await shelf()
      const archives = [await own(found.open, recipeHash, recipe)]
      // One at a time: each is opened, read and closed again.
      for (const path of othersOf(found)) archives.push(await reader.read(path, recipe))
      return { archives, known: await candidatesOf(found), adding }
    },
    async add(path) {
      if (adding === 'dialog' && !(await candidatesOf(await shelf())).includes(path))
        throw new AppError('conflict', 'The desktop application adds archives by its file dialog.')
      return include([path])
    },
    addChosen: include,
    async remove(path) {
      await kept.write((await kept.read()).filter((one) => one !== path))
      announce()
    },
    async measure(path, recipeHash) {
      const recipe = recipes.get(recipeHash)
      if (!othersOf(await shelf()).includes(path))
        throw new AppError('not-found', 'This archive is not in the library.', 'Add it first.')
      const label = `Measuring ${fileNameOf(path)} under “${recipe.name}”`
      return jobs.start('reanalyse', label, { measured: 0, failed: [] }, async (job) => {
        const report = await reader.measure(path, recipe, {
          signal: job.signal,
          onProgress: ({ done, total }) => job.progress(done, total),
        })
        job.result(report)
        announce()
        const { length } = report.failed
        return length === 0 ? '' : `${plural(length, 'capture')} could not be measured.`
      })
    },
  }
}
