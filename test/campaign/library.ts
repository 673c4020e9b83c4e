/**
 * Invented displays of the simulated rig with a known truth: archives filled from the panel model, and what a program of
 * its own (`test/reference/findings.py`, numpy) finds in the model's noise-free transitions.
 */
import { spawnSync } from 'node:child_process'
import { availableParallelism } from 'node:os'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { z } from 'zod'
import { createPool } from '#main/analysis/pool.ts'
import { campaignContent, type CampaignContent } from '#main/core/campaign/findings.ts'
import type { DemoDisplay } from '#main/core/demo/content.ts'
import { fillDemo } from '#main/core/demo/fill.ts'
import { createClock } from '#main/platform/clock.ts'
import { createDemoBench } from '#main/rig/simulated/demo-bench.ts'
import { openStore } from '#main/store/store.ts'
import { visitsOf } from '#shared/domain/campaign-plan.ts'
import { LEVEL_PRESETS, sweepPlanSchema, transitionsOf } from '#shared/domain/plan.ts'
import { DEFAULT_RECIPE, recipeHash } from '#shared/domain/recipe.ts'
import { SIM_SETTINGS, type PanelId, type SimSetting } from '#shared/domain/rig.ts'
import { DEFAULT_LIMITS, type FigureId, type Limits } from '#shared/findings/campaign/figures.ts'
import { PYTHON } from '../reference/tools.ts'
import { truthNumbers, truthOf } from '../simulated/truth.ts'
import { SILENT } from '../support/bench-core.ts'
import { createAnalysisWorker, createStoreWorker } from '../support/workers.ts'

export const RATES = [60, 75, 100, 120, 144, 165]

export interface Grid {
  readonly settings: readonly SimSetting[]
  readonly refreshHz: readonly number[]
  readonly levels: readonly number[]
  readonly repeats: number
}

export const FULL_GRID: Grid = {
  settings: SIM_SETTINGS,
  refreshHz: RATES,
  levels: LEVEL_PRESETS['seven equal L*'],
  repeats: 5,
}

export function inventedDisplay(name: string, panel: PanelId, seed: number, grid: Grid): DemoDisplay {
  return {
    name: `${name} (invented)`,
    display: `Invented display ${name}`,
    note: 'Invented data from the simulated rig; no such display exists.',
    source: { panel, backlight: 'steady', seed },
    plan: {
      settings: [...grid.settings],
      refreshHz: [...grid.refreshHz],
      leaveOut: [],
      sweep: sweepPlanSchema.parse({
        setting: 'Off',
        refreshHz: 60,
        levels: [...grid.levels],
        repeats: grid.repeats,
        preS: 0.03,
        postS: panel === 'swift' ? 0.1 : 0.25,
        spacingS: 0.35,
        sampleRateHz: 20_000,
        rangeV: 5,
        seed,
      }),
      warmUp: null,
      canaryMarginPct: 5,
    },
  }
}

/** Captures, measures and stores; answers the findings' input of each display, in order, and how many captures there are. */
export async function makeLibrary(
  path: string,
  displays: readonly DemoDisplay[],
  threads = availableParallelism(),
): Promise<{ captures: number; contents: CampaignContent[] }> {
  const clock = createClock()
  const store = await openStore({ path, createWorker: createStoreWorker, clock, log: SILENT })
  const analyzer = createPool({ size: threads, createWorker: createAnalysisWorker, log: SILENT })
  try {
    const hash = recipeHash(DEFAULT_RECIPE)
    await store.saveRecipe(DEFAULT_RECIPE)
    const captures = await fillDemo({
      store,
      analyzer,
      clock,
      benchOf: createDemoBench,
      library: { displays, mishapAt: () => null },
    })
    const contents: CampaignContent[] = []
    // Campaigns come newest first.
    for (const { id } of [...(await store.campaigns())].sort((a, b) => a.id - b.id))
      contents.push(await campaignContent(store, id, hash, DEFAULT_RECIPE))
    return { captures, contents }
  } finally {
    await analyzer.close()
    await store.close()
  }
}

const truthSchema = z.object({
  sweeps: z.array(
    z.object({
      setting: z.string(),
      refresh: z.number(),
      usable: z.boolean(),
      duration_mean: z.number(),
      duration_worst: z.number(),
      overshoot_mean: z.number(),
      overshoot_worst: z.number(),
      in_window_share: z.number(),
      dark_mean: z.number().nullable(),
      rise_mean: z.number(),
      fall_mean: z.number(),
    }),
  ),
  spans: z.record(z.string(), z.array(z.tuple([z.number(), z.number()]))),
  whole: z.array(z.string()),
  whole_mean: z.record(z.string(), z.number()),
})
export type TrueFindings = z.infer<typeof truthSchema>

/** Figures that the independent program computes too. */
export const TRUE_FIGURES = [
  'duration_mean',
  'duration_worst',
  'overshoot_mean',
  'overshoot_worst',
  'in_window_share',
  'dark_mean',
  'rise_mean',
  'fall_mean',
] as const satisfies FigureId[]

/** Findings of the panel model without noise, by the independent program. */
export function trueFindings({ source, plan }: DemoDisplay, limits: Limits = DEFAULT_LIMITS): TrueFindings {
  const rows = visitsOf(plan).flatMap(({ setting, refreshHz }) =>
    transitionsOf(plan.sweep.levels).map(({ from, to }) => {
      const simulated = SIM_SETTINGS.find((name) => name === setting) ?? 'Off'
      const { durationS, overshootPct, settledAtS, onsetS } = truthNumbers(
        truthOf({ panel: source.panel, setting: simulated, refreshHz, from, to }),
      )
      const settling = settledAtS - onsetS
      return { setting, refresh: refreshHz, from, to, duration: durationS, overshoot: overshootPct, settling }
    }),
  )
  const task = {
    rows,
    dark: DEFAULT_RECIPE.darkCode,
    limits: Object.fromEntries(Object.entries(limits).map(([id, { bound, value }]) => [id, [bound, value]])),
  }
  const program = join(dirname(fileURLToPath(import.meta.url)), '../reference/findings.py')
  const run = spawnSync(PYTHON, [program], { input: JSON.stringify(task), encoding: 'utf8', timeout: 60_000 })
  if (run.status !== 0) throw new Error(`findings.py failed: ${run.stderr}`)
  return truthSchema.parse(JSON.parse(run.stdout))
}
