/** How long the report of a whole campaign takes, from the question to the last byte, as web page and as PDF. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { createPublishing } from '#main/core/campaign/publish.ts'
import { createPublisher } from '#main/publish/publisher.ts'
import { DEFAULT_PLAN, sweepPlanSchema, transitionsOf, type Transition } from '#shared/domain/plan.ts'
import { DEFAULT_RECIPE, recipeHash } from '#shared/domain/recipe.ts'
import type { Result } from '#shared/domain/result.ts'
import { DEFAULT_LIMITS } from '#shared/findings/campaign/figures.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { asTrace, inputOf, overdrive, uniform } from '../reference/waves.ts'
import { testCapture } from '../store/fixtures.ts'
import { openAt } from './findings.ts'
import { type Figure, medianOf } from './report.ts'

const SETTINGS = ['Off', 'Gentle', 'Strong', 'Full']
const RATES = [48, 60, 75, 100, 120, 144]
const LEVELS = [0, 43, 85, 128, 170, 213, 255]
const REPEATS = 5
const MORE = 4

/** Records that are stored over and over, each with its result; repeats and settings differ by invented factors. */
function measuredTraces() {
  return Array.from({ length: 8 }, (_, i) => {
    const made = asTrace(overdrive(0.02 + 0.03 * i, 2e-3, 6e-3), {
      rateHz: 50_000,
      preS: 0.05,
      postS: 0.25,
      noiseV: 0.002,
      int16: true,
      seed: i + 1,
      ...(i % 2 === 1 ? { fromV: 4.5, toV: 0.5 } : {}),
    })
    return { made, result: measureCapture({ ...inputOf(made), recipe: DEFAULT_RECIPE }) }
  })
}

function scaled(result: Result, factor: number): Result {
  const { transition_duration_s: duration, overshoot_pct: overshoot, blur_edge_s: edge } = result.values
  const times = (value: number | null): number | null => (value === null ? null : value * factor)
  return {
    ...result,
    values: {
      ...result.values,
      transition_duration_s: times(duration),
      overshoot_pct: times(overshoot),
      blur_edge_s: times(edge),
    },
  }
}

export async function campaignReports(): Promise<Figure[]> {
  const folder = mkdtempSync(join(tmpdir(), 'slewlight-bench-'))
  try {
    const store = await openAt(join(folder, 'campaign.slewlight'))
    const campaign = await store.createCampaign({ name: 'Invented', display: 'Invented', note: '' })
    await store.saveRecipe(DEFAULT_RECIPE)
    const traces = measuredTraces()
    const pairs = transitionsOf(LEVELS)
    const random = uniform(5)
    let captures = 0
    for (const [at, setting] of SETTINGS.entries())
      for (const refreshHz of RATES) {
        const plan = sweepPlanSchema.parse({ ...DEFAULT_PLAN, levels: LEVELS, repeats: REPEATS, setting, refreshHz })
        const total = pairs.length * REPEATS
        const sweep = await store.createSweep({
          campaignId: campaign.id,
          plan,
          origin: 'simulated',
          rigIdentity: 'invented rig',
          total,
        })
        await Promise.all(
          Array.from({ length: total }, (_, i) => {
            const { made, result } = traces[i % traces.length] as (typeof traces)[number]
            const { trace, triggerIndex } = made
            const pair = pairs[i % pairs.length] as Transition
            const repeat = 1 + Math.floor(i / pairs.length)
            const capture = testCapture(sweep.id, i, { ...pair, repeat, trace, triggerIndex })
            return store.addCapture(capture, scaled(result, (1 - 0.1 * at) * (1 + 0.02 * random())))
          }),
        )
        captures += total
      }
    const publishing = createPublishing({
      store,
      recipes: {
        current: () => DEFAULT_RECIPE,
        currentHash: () => recipeHash(DEFAULT_RECIPE),
        get: () => DEFAULT_RECIPE,
      },
      publisher: createPublisher(),
      version: 'bench',
    })
    const seconds = async (form: 'html' | 'pdf'): Promise<{ seconds: number; bytes: number }> => {
      const start = performance.now()
      const file = await publishing.report(
        { campaignId: campaign.id, limits: DEFAULT_LIMITS, weighting: 'equal' },
        form,
      )
      let bytes = 0
      for await (const piece of file.pieces(new AbortController().signal)) bytes += piece.bytes.length
      return { seconds: (performance.now() - start) / 1000, bytes }
    }
    const figures: Figure[] = []
    for (const form of ['html', 'pdf'] as const) {
      // What counts is the first one, with everything that has to be loaded for it.
      const first = await seconds(form)
      const more: number[] = []
      for (let run = 0; run < MORE; run++) more.push((await seconds(form)).seconds)
      figures.push({
        what: `report of a campaign of 5,040 captures as ${form === 'html' ? 'a web page' : 'PDF'}, the first one`,
        value: first.seconds,
        unit: 's',
        relation: 'at most',
        bound: 5,
        detail: `${captures} captures in ${SETTINGS.length * RATES.length} sweeps, ${first.bytes} bytes; ${MORE} more took ${medianOf(more).toFixed(2)} s (median)`,
      })
    }
    await store.close()
    return figures
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}
