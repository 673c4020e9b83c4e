import type { CaptureInfo, RawTrace, Sweep } from '#shared/domain/capture.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import type { Recipe } from '#shared/domain/recipe.ts'

/** What a stored capture is measured from: the same input the live capture had. */
export function measureInputOf(
  info: Pick<CaptureInfo, 'from' | 'to' | 'triggerIndex'>,
  sweep: Sweep,
  trace: RawTrace,
  recipe: Recipe,
): MeasureInput {
  return {
    trace,
    triggerIndex: info.triggerIndex,
    from: info.from,
    to: info.to,
    refreshHz: sweep.plan.refreshHz,
    ladder: sweep.ladder,
    recipe,
    // Only a level trigger keeps samples from before it, and only it marks the light edge.
    edgeAtTrigger: sweep.origin !== 'imported' && info.triggerIndex > 0,
  }
}
