/** Measuring stored captures under a recipe as a job that people see, can cancel and can start again. */
import type { Decisions } from './decisions.ts'
import type { Hub } from './hub.ts'
import type { Jobs } from './jobs.ts'
import type { Analyzer, Store } from './ports.ts'
import { reanalyse } from './reanalyse.ts'
import type { RecipeBook } from './recipes.ts'

export interface MeasuringDeps {
  readonly store: Store
  readonly analyzer: Analyzer
  readonly hub: Hub
  readonly jobs: Jobs
  readonly recipes: RecipeBook
  readonly decisions: Decisions
}

interface Scope {
  readonly campaignId?: number
  readonly sweepId?: number
}

export interface Measuring {
  /** Measures what the scope lacks and compares its sweeps; answers with the job's id. Throws for an unknown recipe. */
  start(recipeHash: string, scope: Scope): string
  /** What a sweep took under the recipe in use is measured under the others its captures are measured by as well. */
  catchUp(sweepId: number): Promise<void>
}

export function createMeasuring(deps: MeasuringDeps): Measuring {
  const { store, hub, jobs, recipes, decisions } = deps

  function start(recipeHash: string, scope: Scope): string {
    const recipe = recipes.get(recipeHash)
    const label = `Measuring under “${recipe.name}”`
    return jobs.start('reanalyse', label, { measured: 0, failed: [] }, async (job) => {
      const { failed, measured } = await reanalyse({
        ...deps,
        recipe,
        scope,
        signal: job.signal,
        onProgress: ({ done, total }) => job.progress(done, total),
      })
      job.result({ measured, failed })
      const { sweepId, campaignId } = scope
      const touched = sweepId === undefined ? (await store.sweeps({ campaignId })).map((sweep) => sweep.id) : [sweepId]
      for (const id of touched) await decisions.compare(id, recipeHash)
      if (failed.length === 0) {
        await hub.note('info', `Every capture is measured under “${recipe.name}”.`, sweepId ?? null)
        return ''
      }
      const words = failedInWords(failed)
      await hub.note('warn', `Measured under “${recipe.name}”. ${words}`, sweepId ?? null)
      return words
    })
  }

  return {
    start,
    async catchUp(sweepId) {
      for (const hash of await store.measuredRecipes(sweepId)) {
        if (hash !== recipes.currentHash() && (await store.unmeasured(hash, { sweepId })).length > 0)
          start(hash, { sweepId })
      }
    },
  }
}

/** Names the first few; the count says how many there are. */
function failedInWords(failed: readonly { captureId: number; problem: string }[]): string {
  const named = failed.slice(0, 3).map(({ captureId, problem }) => `capture ${captureId}: ${problem}`)
  return `${failed.length} could not be measured (${named.join(' ')}${failed.length > named.length ? ' …' : ''}).`
}
