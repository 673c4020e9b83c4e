import { describe, expect, it } from 'vitest'
import type { Sweep } from '#shared/domain/capture.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import { DEFAULT_PLAN, sweepPlanSchema } from '#shared/domain/plan.ts'
import { DEFAULT_RECIPE, recipeSchema } from '#shared/domain/recipe.ts'
import type { StoredInput, UsableCapture } from '#shared/domain/stored.ts'
import type { Analyzer, Store } from '#main/core/ports.ts'
import { createRecipePreviews } from '#main/core/recipe-preview.ts'
import { measureLight } from '#shared/measure/light.ts'
import { measureCapture, uncertaintyTerms } from '#shared/measure/measure-capture.ts'
import { asTrace, overdrive } from '../reference/waves.ts'
import { draw } from '#shared/measure/pictures.ts'

const SWEEP = {
  id: 1,
  campaignId: 1,
  plan: sweepPlanSchema.parse(DEFAULT_PLAN),
  origin: 'simulated',
  ladder: null,
} as unknown as Sweep
const OTHER = recipeSchema.parse({ name: '3–97 %', duration: { kind: 'percent', percent: 3 } })

/** A store that makes a trace of so many samples for every id, and counts what it is asked for. */
function fakes(samples: number, answers = 1000) {
  const reads: number[][] = []
  const alone: number[] = []
  const trace = () =>
    asTrace(overdrive(0.1, 2e-3, 6e-3), { rateHz: samples / 0.3, preS: 0.05, postS: 0.25, int16: true })
  const store = {
    inputs: async (ids: readonly number[]): Promise<StoredInput[]> => {
      reads.push([...ids])
      return ids
        .slice(0, answers)
        .flatMap((captureId) =>
          captureId > 100
            ? []
            : [{ captureId, sweepId: 1, from: 0, to: 255, override: null, overrideId: null, ...trace() }],
        )
    },
    sweep: async () => SWEEP,
    sweeps: async () => [SWEEP],
    usableCaptures: async (): Promise<UsableCapture[]> =>
      Array.from({ length: 50 }, (_, i) => ({ captureId: i + 1, sweepId: 1, from: 0, to: 255 })),
  }
  const analyzer: Analyzer = {
    measure: async (input) => {
      alone.push(input.trace.samples.length)
      return measureCapture(input)
    },
    // As the pool does: the samples are gone afterwards.
    measureMany: async (inputs: readonly MeasureInput[]) =>
      inputs.map((input) => {
        const result = measureCapture(input)
        input.trace.samples.fill(0)
        return { result }
      }),
    causes: async (input) => uncertaintyTerms(input),
    light: async (input) => measureLight(input),
    picture: async (kind, request) => draw(kind, request),
    concurrency: 1,
    close: async () => undefined,
  }
  return { previews: createRecipePreviews({ store: store as unknown as Store, analyzer }), reads, alone }
}

describe('a moving slider', () => {
  it('reads a capture once, keeps the last three, and forgets them when asked', async () => {
    const { previews, reads } = fakes(3000)
    for (const recipe of [DEFAULT_RECIPE, OTHER, DEFAULT_RECIPE]) await previews.one({ captureId: 1, recipe })
    expect(reads).toEqual([[1]])
    for (const captureId of [2, 3, 1, 4]) await previews.one({ captureId, recipe: OTHER })
    expect(reads).toEqual([[1], [2], [3], [4]])
    await previews.one({ captureId: 1, recipe: OTHER })
    expect(reads).toHaveLength(4)
    await previews.one({ captureId: 2, recipe: OTHER })
    expect(reads).toHaveLength(5)
    previews.forget()
    await previews.one({ captureId: 1, recipe: OTHER })
    expect(reads).toHaveLength(6)
  })

  it('asks again for what could not be read', async () => {
    const { previews, reads } = fakes(3000)
    for (let i = 0; i < 2; i++)
      await expect(previews.one({ captureId: 101, recipe: OTHER })).rejects.toMatchObject({ code: 'not-found' })
    expect(reads).toHaveLength(2)
  })

  it('leaves long records to another thread', async () => {
    const short = fakes(30_000)
    await short.previews.one({ captureId: 1, recipe: OTHER })
    expect(short.alone).toEqual([])
    const long = fakes(300_000)
    await long.previews.one({ captureId: 1, recipe: OTHER })
    expect(long.alone).toEqual([300_000])
  })
})

describe('a sample', () => {
  it('measures the same samples under both, in however many answers they come', async () => {
    const ask = { recipe: OTHER, count: 20, seed: 5 }
    const whole = await fakes(3000).previews.sample(ask, DEFAULT_RECIPE)
    const pieces = fakes(3000, 3)
    expect(await pieces.previews.sample(ask, DEFAULT_RECIPE)).toEqual(whole)
    expect(pieces.reads.length).toBeGreaterThan(5)
    expect(whole).toMatchObject({ total: 50, seed: 5 })
    expect(whole.captures).toHaveLength(20)
    for (const { a, b } of whole.captures) {
      expect(a?.values.step_v).toBe(b?.values.step_v)
      expect(b?.values.transition_duration_s).toBeGreaterThan(a?.values.transition_duration_s ?? Infinity)
    }
  })

  it('stops when it is cancelled', async () => {
    const { previews } = fakes(3000)
    const abort = new AbortController()
    abort.abort()
    await expect(
      previews.sample({ recipe: OTHER, count: 5, seed: 1 }, DEFAULT_RECIPE, abort.signal),
    ).rejects.toMatchObject({ code: 'cancelled' })
  })
})
