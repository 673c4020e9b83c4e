import type { MeasureInput } from '#shared/domain/measure-input.ts'
import type { MeasureId } from '#shared/domain/measures.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { UncertaintyTerm } from '#shared/domain/result.ts'
import type { Sweep } from '#shared/domain/capture.ts'
import type { Causes } from '#shared/measure/measure-capture.ts'
import { measureInputOf } from './measure-input.ts'
import type { Store } from './ports.ts'
import { readInputs } from './read-inputs.ts'

/** Captures that are measured once more for the causes of their uncertainty: they differ little within a transition. */
const MOST = 8

/**
 * Causes of the uncertainty of some captures of one transition under a recipe: root mean square of each over those that
 * have the value, largest first. Causes are not stored with results, so the captures are measured once more.
 */
export async function cellTerms(
  store: Store,
  causesOf: (input: MeasureInput) => Promise<Causes> | Causes,
  recipe: Recipe,
  captureIds: readonly number[],
  measure: MeasureId,
): Promise<UncertaintyTerm[]> {
  const squares = new Map<string, { sum: number; averages: boolean }>()
  const sweeps = new Map<number, Sweep>()
  let measured = 0
  for (const captureId of captureIds.slice(0, MOST)) {
    const [stored] = (await readInputs(store, [captureId])).stored
    if (stored === undefined) continue
    const sweep = sweeps.get(stored.sweepId) ?? (await store.sweep({ sweepId: stored.sweepId }))
    sweeps.set(stored.sweepId, sweep)
    const terms = (
      await causesOf({ ...measureInputOf(stored, sweep, stored.trace, recipe), override: stored.override })
    )[measure]
    if (terms === undefined) continue
    measured++
    for (const { name, u, averages } of terms)
      squares.set(name, { sum: (squares.get(name)?.sum ?? 0) + u * u, averages })
  }
  return [...squares]
    .map(([name, { sum, averages }]) => ({ name, u: Math.sqrt(sum / measured), averages }))
    .sort((a, b) => b.u - a.u)
}
