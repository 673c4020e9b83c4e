import { useEffect, useState } from 'react'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { RecipePreview } from '#shared/domain/views.ts'
import { describeError } from '../../client/errors.ts'
import { useClient } from '../../client/host.tsx'
import { createLatest } from '../../client/latest.ts'

export interface Preview {
  readonly captureId: number
  readonly recipe: Recipe
  readonly preview: RecipePreview
}

/** Columns of a conditioned trace: enough to look at the edge closely. */
export const COLUMNS = 8192

/** The recipe being edited, for those who must know at once and not when the screen is drawn. */
export interface EditedRecipe {
  current(): Recipe
  /** Calls at every edit, before anything is drawn, until the returned function is called. */
  watch(listener: () => void): () => void
}

/**
 * The capture under the edited recipe, measured anew at every change; the last answer stays until the next one is there.
 * An edit is asked about while the screen is still drawing it, and draws nothing here before its answer.
 */
export function usePreview(captureId: number | null, edited: EditedRecipe): { shown: Preview | null; problem: string } {
  const client = useClient()
  const [shown, setShown] = useState<Preview | null>(null)
  const [problem, setProblem] = useState('')
  useEffect(() => {
    if (client === null || captureId === null) return undefined
    const latest = createLatest<Recipe, RecipePreview>({
      put: (recipe, signal) => client.recipes.preview({ captureId, recipe, columns: COLUMNS }, { signal }),
      onAnswer: (preview, recipe) => {
        setProblem('')
        setShown({ captureId, recipe, preview })
      },
      onError: (error) => setProblem(describeError(error).message),
    })
    const ask = () => latest.ask(edited.current())
    ask()
    const release = edited.watch(ask)
    return () => {
      release()
      latest.stop()
    }
  }, [client, captureId, edited])
  return { shown: shown?.captureId === captureId ? shown : null, problem }
}
