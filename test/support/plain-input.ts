import type { MeasureInput } from '#shared/domain/measure-input.ts'
import { DEFAULT_RECIPE } from '#shared/domain/recipe.ts'

/** Codes as a whole record from level 0 to 255, its trigger at the first sample, measured by the default recipe. */
export function plainInput(samples: Int16Array<ArrayBuffer>, sampleRateHz: number, scaleV: number): MeasureInput {
  return {
    trace: { format: 'int16', samples, sampleRateHz, scaleV, offsetV: 0, rangeV: 5 },
    triggerIndex: 0,
    from: 0,
    to: 255,
    refreshHz: 60,
    ladder: null,
    edgeAtTrigger: true,
    recipe: DEFAULT_RECIPE,
  }
}
