/** Whatever is computed of a long record: the host answers meanwhile, and what comes is the same as of a short one. */
import { setImmediate } from 'node:timers/promises'
import { afterAll, expect, it, vi } from 'vitest'
import { createPool } from '#main/analysis/pool.ts'
import { createDecisions } from '#main/core/decisions.ts'
import { createDesk, type Desk } from '#main/core/desk.ts'
import { createLive } from '#main/core/live.ts'
import { type Draw, drawApart, measureApart } from '#main/core/measure-apart.ts'
import type { Store } from '#main/core/ports.ts'
import type { RawTrace } from '#shared/domain/capture.ts'
import { recipeSchema } from '#shared/domain/recipe.ts'
import { draw } from '#shared/measure/pictures.ts'
import { collectingLog, HASH, testCapture } from '../store/fixtures.ts'
import { createInventedWorker } from '../support/workers.ts'

const SAMPLES = 120_000
const RATE_HZ = 120_000
const samples = Int16Array.from({ length: SAMPLES }, (_, i) => (i < SAMPLES / 2 ? 3000 : 20_000) + ((i * 7919) % 200))
const trace: RawTrace = { format: 'int16', samples, sampleRateHz: RATE_HZ, scaleV: 1e-4, offsetV: 0, rangeV: 5 }
const recipe = recipeSchema.parse({
  name: 'Smooth',
  condition: { kind: 'low-pass', shape: 'bessel-4', cutoffHz: 2000, phase: 'zero' },
})
const info = { ...testCapture(1, 0), id: 1 }
const stored = (captureId: number) => ({ ...info, captureId, trace, override: null, overrideId: null })
const store = {
  capture: async () => info,
  trace: async () => trace,
  sweep: async () => ({ id: 1, plan: { refreshHz: 60 }, ladder: null, origin: 'measured' }),
  inputs: async (ids: readonly number[]) => ids.map(stored),
  repeats: async () => [1, 2, 3].map((captureId) => ({ captureId, repeat: captureId, counts: true, reason: '' })),
  result: async () => ({ values: {}, landmarks: { crossMidS: 0.5 } }),
} as unknown as Store

const pool = createPool({ size: 1, createWorker: createInventedWorker, log: collectingLog() })
afterAll(() => pool.close())
const recipes = { get: () => recipe, currentHash: () => HASH } as never
const deskOf = (how: Draw): Desk =>
  createDesk({ store, recipes, measure: () => Promise.reject(new Error('not asked')), draw: how })
const view = { captureId: 1, recipeHash: HASH, columns: 500 }

/** Another thread whose answers wait until they are let go. */
function heldThread() {
  const asked: string[] = []
  let letGo = (): void => undefined
  const gate = new Promise<void>((resolve) => {
    letGo = resolve
  })
  const picture: Draw = async (kind, request, signal) => {
    asked.push(kind)
    await gate
    return pool.picture(kind, request, signal)
  }
  return { asked, picture, letGo }
}

it('pictures, spectra and repeats are drawn on another thread, while the host goes on', async () => {
  const here: Draw = async (kind, request) => draw(kind, request)
  const alone = deskOf(here)
  for (const ask of [
    (desk: Desk): Promise<unknown> => desk.trace(view),
    (desk: Desk): Promise<unknown> => desk.overlay(view),
    (desk: Desk): Promise<unknown> => desk.spectrum({ captureId: 1, fromS: 0, toS: 1 }),
  ]) {
    const thread = heldThread()
    const asked = ask(deskOf(drawApart(thread)))
    // The host, and so this test, goes on while the other thread has not answered.
    await vi.waitUntil(() => thread.asked.length > 0, { timeout: 60_000 })
    await setImmediate()
    thread.letGo()
    expect(await asked).toEqual(await ask(alone))
  }
  const live = createLive(drawApart(pool))
  live.put({ trace, result: null, sweepId: null, captureId: null, from: null, to: null, refreshHz: 60 })
  expect(await live.view(0, 500)).toMatchObject({
    revision: 1,
    envelope: draw('envelope', { trace, fromS: 0, toS: 1, columns: 500 }),
  })
})

it('a capture that a person decides on is measured on another thread', async () => {
  const asked: number[] = []
  const measure = measureApart({
    measure: async (input) => {
      asked.push(input.trace.samples.length)
      return pool.measure(input)
    },
  })
  const decided = {
    ...store,
    addReview: async () => ({ id: 1 }),
    result: async () => null,
    measuredRecipes: async () => [HASH],
    addResults: async () => null,
    comparison: async () => [],
    setGroupFlags: async () => null,
  } as unknown as Store
  const problems: string[] = []
  const hub = {
    state: () => ({ sweep: null }),
    emit: () => undefined,
    note: async (_level: string, text: string) => problems.push(text),
  } as never
  const decisions = createDecisions({ store: decided, hub, recipes, measure })
  await decisions.add({ captureId: 1, decision: 'keep', reason: 'Invented', reviewer: 'A. Operator', override: null })
  await decisions.idle()
  expect([asked, problems]).toEqual([[SAMPLES], []])
})
