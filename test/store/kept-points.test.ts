/** Figures of sweeps that the archive keeps are those that would be computed anew, whatever happened in between. */
import { beforeEach, describe, expect, it } from 'vitest'
import { DEFAULT_PLAN, sweepPlanSchema, transitionsOf, type Transition } from '../../src-shared/domain/plan.ts'
import { DEFAULT_RECIPE, recipeHash, recipeSchema } from '../../src-shared/domain/recipe.ts'
import { ALGORITHM } from '../../src-shared/domain/result.ts'
import { seededRandom } from '../../src-shared/domain/seeded-random.ts'
import type { ReviewDecision } from '../../src-shared/domain/views.ts'
import { campaignContent, campaignFigures } from '../../src-main/core/campaign/findings.ts'
import type { Store } from '../../src-main/core/ports.ts'
import { openStore } from '../../src-main/store/store.ts'
import { createStoreWorker } from '../support/workers.ts'
import { clock, collectingLog, HASH, testCapture, testFlag, testResult, testTrace } from './fixtures.ts'
import { storePerTest } from './per-test.ts'

const on = storePerTest()
const LEVELS = [0, 128, 255]
const PAIRS = transitionsOf(LEVELS)
const OTHER = recipeSchema.parse({ name: '20–80 %', duration: { kind: 'percent', percent: 20 } })
const RECIPES = [DEFAULT_RECIPE, OTHER]
const DECISIONS: readonly ReviewDecision[] = ['exclude', 'keep', 'retake', 'override']

let campaignId: number
let sweepIds: number[]
beforeEach(async () => {
  campaignId = (await on.store.createCampaign({ name: 'Invented', display: 'Panel A', note: '' })).id
  await on.store.saveRecipe(OTHER)
  sweepIds = []
  for (const [setting, refreshHz] of [
    ['Off', 60],
    ['Fast', 60],
    ['Fast', 120],
    ['Fast', 120],
  ] as const) {
    const plan = sweepPlanSchema.parse({ ...DEFAULT_PLAN, levels: LEVELS, repeats: 3, setting, refreshHz })
    const sweep = { campaignId, plan, origin: 'simulated', rigIdentity: 'invented rig', total: 18 } as const
    sweepIds.push((await on.store.createSweep(sweep)).id)
  }
})

async function expectEqual(store: Store): Promise<void> {
  for (const recipe of RECIPES) {
    const hash = recipeHash(recipe)
    const kept = await campaignFigures(store, campaignId, hash, recipe)
    const fresh = await campaignContent(store, campaignId, hash, recipe)
    expect(kept.leftOut).toEqual(fresh.leftOut)
    expect(kept.sweeps).toEqual(
      fresh.sweeps.map(({ sweep, matrix, point }) => ({ sweep, levels: matrix.levels, point })),
    )
  }
}

/** One change of a random kind; answers whether it was accepted. */
function changes(random: () => number) {
  const below = (count: number): number => Math.floor(count * random())
  const pick = <T>(items: readonly T[]): T => items[below(items.length)] as T
  const captureIds: number[] = []
  const reviews: { id: number; captureId: number }[] = []
  const resultOf = (hash: string) =>
    testResult(
      {
        transition_duration_s: random() < 0.1 ? null : 0.002 + 0.001 * random(),
        overshoot_pct: 10 * random(),
        in_window: below(2),
        blur_edge_s: 0.004 + 0.001 * random(),
      },
      [],
      hash,
    )
  const kinds: Record<string, (store: Store) => Promise<unknown>> = {
    async capture(store) {
      const position = below(18)
      const pair = PAIRS[position % PAIRS.length] as Transition
      const { from, to } = random() < 0.05 ? { from: 10, to: 20 } : pair
      const trace = testTrace(captureIds.length, 60)
      const capture = testCapture(pick(sweepIds), position, { from, to, repeat: 1 + below(3), trace, triggerIndex: 15 })
      captureIds.push((await store.addCapture(capture, random() < 0.5 ? resultOf(HASH) : null)).id)
    },
    async measured(store) {
      const hash = recipeHash(pick(RECIPES))
      await store.addResults(
        Array.from({ length: 1 + below(3) }, () => ({ captureId: pick(captureIds), result: resultOf(hash) })),
      )
    },
    async decision(store) {
      const decision = pick(DECISIONS)
      const captureId = pick(captureIds)
      const override = decision === 'override' ? { crossLowS: random() } : null
      const { id } = await store.addReview({ captureId, decision, reason: 'Invented.', reviewer: 'A', override })
      if (decision === 'override') reviews.push({ id, captureId })
    },
    async overridden(store) {
      const { id, captureId } = pick(reviews)
      await store.addResults([{ captureId, result: resultOf(HASH), overrideId: id }])
    },
    undo: (store) => store.undo(),
    redo: (store) => store.redo(),
    hidden: (store) => store.setSweepHidden(pick(sweepIds), random() < 0.4),
    /** Nothing of it stays: the second result names a review that is not there. */
    rolledBack: (store) =>
      store.addResults([
        { captureId: pick(captureIds), result: resultOf(HASH) },
        { captureId: pick(captureIds), result: resultOf(HASH), overrideId: 9999 },
      ]),
    flags: (store) =>
      store.setGroupFlags(pick(sweepIds), HASH, [
        { captureId: pick(captureIds), flag: testFlag('differs-from-repeats') },
      ]),
    several: (store) =>
      store.addReviews({
        scope: { sweepId: pick(sweepIds), recipeHash: HASH },
        decision: 'exclude',
        reason: 'Invented.',
        reviewer: 'A',
      }),
  }
  // Captures come twice as often as the rest.
  const names = ['capture', 'measured', ...Object.keys(kinds).filter((name) => name !== 'several')]
  return {
    names: Object.keys(kinds),
    async one(store: Store, step: number): Promise<{ name: string; done: boolean }> {
      const name = captureIds.length < 6 ? 'capture' : step % 40 === 39 ? 'several' : pick(names)
      try {
        await (kinds[name] as (typeof kinds)[string])(store)
        return { name, done: true }
      } catch {
        return { name, done: false }
      }
    },
  }
}

describe('kept figures of sweeps', () => {
  it.each([1, 2])('are those computed anew after any sequence of changes (seed %i)', async (seed) => {
    const random = seededRandom(seed)
    const made = changes(random)
    const done = new Set<string>()
    for (let step = 0; step < 100; step++) {
      const change = await made.one(on.store, step)
      if (change.done) done.add(change.name)
      await expectEqual(on.store)
    }
    // Every kind of change took place, and the one that must fail did.
    expect([...done].sort()).toEqual(made.names.filter((name) => name !== 'rolledBack').sort())
  })

  it('follow what another program writes', async () => {
    const made = changes(seededRandom(4))
    for (let step = 0; step < 20; step++) await made.one(on.store, step)
    const reader = await openStore({
      path: on.path,
      createWorker: createStoreWorker,
      clock,
      log: collectingLog(),
      algorithm: ALGORITHM,
      readOnly: true,
    })
    try {
      for (let step = 20; step < 60; step++) {
        await made.one(on.store, step)
        await expectEqual(reader)
      }
    } finally {
      await reader.close()
    }
  })
})
