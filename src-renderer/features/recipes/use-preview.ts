import { useCallback, useEffect, useRef, useState } from 'react'
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

/**
 * The capture under the recipe, measured anew at every change; the last answer stays until the next one is there. An edit
 * is asked about at once, while the screen is still drawing it.
 */
export function usePreview(
  captureId: number | null,
  recipe: Recipe,
  watch: (listener: (recipe: Recipe) => void) => () => void,
): { shown: Preview | null; problem: string } {
  const client = useClient()
  const [shown, setShown] = useState<Preview | null>(null)
  const [problem, setProblem] = useState('')
  const latest = useRef<Latest<Question> | null>(null)
  const asked = useRef<Question | null>(null)
  useEffect(
    () => () => {
      latest.current?.stop()
      latest.current = null
      asked.current = null
    },
    [],
  )
  const ask = useCallback((question: Question) => {
    const last = asked.current
    if (last?.client === question.client && last.captureId === question.captureId && last.recipe === question.recipe)
      return
    asked.current = question
    latest.current ??= createLatest<Question, RecipePreview>({
      put: ({ client: host, captureId: id, recipe: under }, signal) =>
        host.recipes.preview({ captureId: id, recipe: under, columns: COLUMNS }, { signal }),
      onAnswer: (preview, { captureId: id, recipe: under }) => {
        setProblem('')
        setShown({ captureId: id, recipe: under, preview })
      },
      onError: (error) => setProblem(describeError(error).message),
    })
    latest.current.ask(question)
  }, [])
  useEffect(() => {
    if (client !== null && captureId !== null) ask({ client, captureId, recipe })
  }, [ask, client, captureId, recipe])
  useEffect(() => {
    if (client === null || captureId === null) return undefined
    return watch((now) => ask({ client, captureId, recipe: now }))
  }, [ask, watch, client, captureId])
  return { shown: shown?.captureId === captureId ? shown : null, problem }
}
