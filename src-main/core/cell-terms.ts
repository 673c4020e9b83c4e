import type { Sweep } from '#shared/domain/capture.ts'
import type { MeasureId } from '#shared/domain/measures.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { UncertaintyTerm } from '#shared/domain/result.ts'
import { uncertaintyTerms } from '#shared/measure/measure-capture.ts'
import { measureInputOf } from './measure-input.ts'
import type { Store } from './ports.ts'

/** Captures that are measured once more for the causes of their uncertainty: they differ little within a transition. */
const MOST = 8

/**
 * Causes of the uncertainty of some captures of one transition under a recipe: root mean square of each over the
 * captures, largest first. Causes are not stored with results, so the captures are measured once more.
 */
export async function cellTerms(
  store: Store,
  sweep: Sweep,
  recipe: Recipe,
  captureIds: readonly number[],
  measure: MeasureId,
): Promise<UncertaintyTerm[]> {
  const squares = new Map<string, { sum: number; averages: boolean }>()
  const chosen = captureIds.slice(0, MOST)
  for (const captureId of chosen) {
    const [stored] = await store.inputs([captureId])
    if (stored === undefined) continue
    const input = {
      ...measureInputOf(stored, sweep, stored.trace, recipe),
      ...(stored.override === null ? {} : { override: stored.override }),
    }
    for (const { name, u, averages } of uncertaintyTerms(input)[measure] ?? []) {
      const known = squares.get(name)
      squares.set(name, { sum: (known?.sum ?? 0) + u * u, averages })
    }
  }
  return [...squares]
    .map(([name, { sum, averages }]) => ({ name, u: Math.sqrt(sum / chosen.length), averages }))
    .sort((a, b) => b.u - a.u)
}
