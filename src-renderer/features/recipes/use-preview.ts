import { useEffect, useRef, useState } from 'react'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { RecipePreview } from '#shared/domain/views.ts'
import type { Client } from '../../client/connect.ts'
import { describeError } from '../../client/errors.ts'
import { useClient } from '../../client/host.tsx'
import { createLatest, type Latest } from '../../client/latest.ts'

interface Question {
  readonly client: Client
  readonly captureId: number
  readonly recipe: Recipe
}

export interface Preview extends Omit<Question, 'client'> {
  readonly preview: RecipePreview
}

/** Columns of a conditioned trace: enough to look at the edge closely. */
export const COLUMNS = 8192

/** The capture under the recipe, measured anew at every change; the last answer stays until the next one is there. */
export function usePreview(captureId: number | null, recipe: Recipe): { shown: Preview | null; problem: string } {
  const client = useClient()
  const [shown, setShown] = useState<Preview | null>(null)
  const [problem, setProblem] = useState('')
  const latest = useRef<Latest<Question> | null>(null)
  useEffect(
    () => () => {
      latest.current?.stop()
      latest.current = null
    },
    [],
  )
  useEffect(() => {
    if (client === null || captureId === null) return
    latest.current ??= createLatest<Question, RecipePreview>({
      put: (question, signal) =>
        question.client.recipes.preview(
          { captureId: question.captureId, recipe: question.recipe, columns: COLUMNS },
          { signal },
        ),
      onAnswer: (preview, question) => {
        setProblem('')
        setShown({ captureId: question.captureId, recipe: question.recipe, preview })
      },
      onError: (error) => setProblem(describeError(error).message),
    })
    latest.current.ask({ client, captureId, recipe })
  }, [client, captureId, recipe])
  return { shown: shown?.captureId === captureId ? shown : null, problem }
}
