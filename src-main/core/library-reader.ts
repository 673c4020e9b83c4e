/** Reads what other archives hold under a recipe, one after the other; the same for screens and the command line. */
import { toErrorDetail } from '#shared/domain/errors.ts'
import { type Recipe, recipeHash } from '#shared/domain/recipe.ts'
import { fileNameOf, type LibraryArchive, type LibraryCampaign } from '#shared/findings/campaign/library.ts'
import { campaignsOf } from './campaign/findings.ts'
import type { Analyzer, OtherArchives } from './ports.ts'
import { reanalyse, type ReanalyseOptions, type ReanalyseReport } from './reanalyse.ts'

export interface LibraryReader {
  /** Never rejects: what cannot be read says why. */
  read(path: string, recipe: Recipe): Promise<LibraryArchive>
  /**
   * Measures on a copy what the archive lacks under the recipe; it stays as it is. `read` answers with the outcome from
   * then on. Rejects as opening does, and with `cancelled`.
   */
  measure(
    path: string,
    recipe: Recipe,
    options: Pick<ReanalyseOptions, 'signal' | 'onProgress'>,
  ): Promise<ReanalyseReport>
  /** Recipes an archive holds; empty where it cannot be read. */
  recipes(path: string): Promise<readonly { readonly hash: string; readonly recipe: Recipe }[]>
}

/** What was read stays good while the file is the same. */
interface Known {
  readonly stamp: string
  readonly campaigns: Promise<LibraryCampaign[]>
}

export function createLibraryReader(deps: {
  readonly others: OtherArchives
  readonly analyzer: Analyzer
}): LibraryReader {
  const { others, analyzer } = deps
  const known = new Map<string, Known>()
  const keyOf = (path: string, recipe: Recipe): string => `${recipeHash(recipe)} ${path}`

  async function reading(path: string, recipe: Recipe): Promise<LibraryCampaign[]> {
    const store = await others.open(path)
    try {
      return await campaignsOf(store, recipeHash(recipe), recipe)
    } finally {
      await store.close()
    }
  }

  return {
    async read(path, recipe) {
      const archive = { path, name: fileNameOf(path), isOpen: false }
      const key = keyOf(path, recipe)
      try {
        const stamp = (await others.stamp(path)) ?? 'absent'
        const before = known.get(key)
        const campaigns = before?.stamp === stamp ? before.campaigns : reading(path, recipe)
        known.set(key, { stamp, campaigns })
        return { ...archive, problem: null, campaigns: await campaigns }
      } catch (error) {
        // What stands in the way may be gone the next time without the file having changed.
        known.delete(key)
        return { ...archive, problem: toErrorDetail(error), campaigns: [] }
      }
    },
    async measure(path, recipe, options) {
      const stamp = (await others.stamp(path)) ?? 'absent'
      const { store, discard } = await others.copy(path)
      try {
        const report = await reanalyse({ ...options, store, analyzer, recipe, scope: {} })
        // What could not be measured now will not be the next time either: the report names it, the list no longer does.
        const campaigns = (await campaignsOf(store, recipeHash(recipe), recipe)).map((one) => ({
          ...one,
          unmeasured: 0,
        }))
        known.set(keyOf(path, recipe), { stamp, campaigns: Promise.resolve(campaigns) })
        return report
      } finally {
        await discard()
      }
    },
    async recipes(path) {
      try {
        const store = await others.open(path)
        try {
          return await store.recipes()
        } finally {
          await store.close()
        }
      } catch {
        return []
      }
    },
  }
}
