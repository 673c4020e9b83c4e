/** Archive speed and size: re-analysis of 10,000 stored captures, bytes beyond the samples, matrix of 100,000 results. */
import { mkdtempSync, rmSync, statSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { Worker } from 'node:worker_threads'
import { createPool } from '#main/analysis/pool.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import type { NewCapture } from '#shared/domain/stored.ts'
import type { Analyzer, Store } from '#main/core/ports.ts'
import { reanalyse } from '#main/core/reanalyse.ts'
import { createClock } from '#main/platform/clock.ts'
import { DEFAULT_PLAN, sweepPlanSchema, transitionsOf, type Transition } from '#shared/domain/plan.ts'
import { RECIPE_PRESETS, recipeHash, type Recipe, recipeSchema } from '#shared/domain/recipe.ts'
import { compareRecipes } from '#shared/findings/compare.ts'
import { cellStatistics } from '#shared/findings/matrix.ts'
import { SUMMARY_MEASURES, summarise } from '#shared/findings/summary.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { asTrace, inputOf, type MadeTrace, overdrive, uniform } from '../reference/waves.ts'
import { createAnalysisWorker } from '../support/workers.ts'
import { findingsOf, openAt } from './findings.ts'
import { type Figure, medianOf, percentile } from './report.ts'
import { testCapture } from '../store/fixtures.ts'

/** Cores of the machine the figures are for; the store's own thread shares them. */
const THREADS = 2
const CAPTURES = 10_000
const RATE_HZ = 50_000
const LEVELS = [0, 51, 102, 153, 204, 255]
const clock = createClock()
const log = { info: () => undefined, warn: () => undefined, error: () => undefined }

/** A few different captures that are stored over and over: making each anew would take longer than everything else. */
function samples(count: number, preS: number, postS: number): MadeTrace[] {
  return Array.from({ length: count }, (_, i) =>
    asTrace(overdrive(0.02 + 0.03 * i, 2e-3, 6e-3), {
      rateHz: RATE_HZ,
      preS,
      postS,
      noiseV: 0.002,
      int16: true,
      seed: i + 1,
      ...(i % 2 === 1 ? { fromV: 4.5, toV: 0.5 } : {}),
    }),
  )
}

async function makeSweep(
  store: Store,
  campaignId: number,
  repeats: number,
  total: number,
  at: { setting?: string; refreshHz?: number } = {},
): Promise<number> {
  const plan = sweepPlanSchema.parse({ ...DEFAULT_PLAN, levels: LEVELS, repeats, ...at })
  const sweep = await store.createSweep({ campaignId, plan, origin: 'simulated', rigIdentity: 'invented rig', total })
  return sweep.id
}

function captureOf(sweepId: number, position: number, pair: Transition, repeat: number, made: MadeTrace): NewCapture {
  const { trace, triggerIndex } = made
  return testCapture(sweepId, position, { ...pair, repeat, takenAt: clock.iso(), trace, triggerIndex })
}

/** Plain computing: each thread measures the same traces held in its own memory. */
class Computing {
  readonly #workers: Worker[]

  constructor(traces: readonly MadeTrace[], recipe: Recipe) {
    const inputs = traces.map((made) => ({ ...inputOf(made), recipe }))
    this.#workers = Array.from(
      { length: THREADS },
      () =>
        new Worker(new URL('computing-worker.ts', import.meta.url), {
          workerData: { inputs },
          execArgv: ['--disable-warning=MODULE_TYPELESS_PACKAGE_JSON'],
        }),
    )
  }

  /** Seconds for so many captures, until the slower thread is done. */
  async seconds(captures: number): Promise<number> {
    const each = captures / THREADS
    const spent = await Promise.all(
      this.#workers.map(
        (worker) =>
          new Promise<number>((resolve, reject) => {
            worker.removeAllListeners()
            worker.once('message', (answer: { seconds: number }) => {
              resolve(answer.seconds)
            })
            worker.once('error', reject)
            worker.postMessage(each, [])
          }),
      ),
    )
    return Math.max(...spent)
  }

  async close(): Promise<void> {
    await Promise.all(this.#workers.map((worker) => worker.terminate()))
  }
}

async function warm(analyzer: Analyzer, traces: readonly MadeTrace[], recipe: Recipe): Promise<void> {
  const batch = (): MeasureInput[] =>
    traces.map((made) => {
      const input = inputOf(made)
      return { ...input, recipe, trace: { ...input.trace, samples: input.trace.samples.slice() } }
    })
  for (let done = 0; done < CAPTURES / PARTS; done += THREADS * traces.length)
    // oxlint-disable-next-line no-await-in-loop
    await Promise.all(Array.from({ length: THREADS }, () => analyzer.measureMany(batch())))
}

/** Parts in which re-analysis and plain computing take turns, so that other load on the machine meets both alike. */
const PARTS = 5

export async function storedCaptures(): Promise<Figure[]> {
  const folder = mkdtempSync(join(tmpdir(), 'slewlight-bench-'))
  const path = join(folder, 'bench.slewlight')
  try {
    let store = await openAt(path)
    const pairs = transitionsOf(LEVELS)
    const traces = samples(8, 0.05, 0.25)
    const first = RECIPE_PRESETS[0] as Recipe
    const results = traces.map((made) => measureCapture({ ...inputOf(made), recipe: first }))
    const perSweep = 500
    let sampleBytes = 0
    const campaigns: number[] = []
    for (let start = 0; start < CAPTURES; start += perSweep) {
      if (start % (CAPTURES / PARTS) === 0) {
        const name = `Invented ${campaigns.length + 1}`
        campaigns.push((await store.createCampaign({ name, display: 'Invented', note: '' })).id)
      }
      const campaignId = campaigns.at(-1) ?? 0
      const sweepId = await makeSweep(store, campaignId, Math.ceil(perSweep / pairs.length), perSweep)
      const batch = Array.from({ length: perSweep }, (_, i) => {
        const made = traces[i % traces.length] as MadeTrace
        sampleBytes += made.trace.samples.byteLength
        const pair = pairs[i % pairs.length] as Transition
        const capture = captureOf(sweepId, i, pair, 1 + Math.floor(i / pairs.length), made)
        return store.addCapture(capture, results[i % traces.length] ?? null)
      })
      await Promise.all(batch)
    }
    await store.close()
    const fileBytes = statSync(path).size

    store = await openAt(path)
    const recipe = recipeSchema.parse({ name: 'Bench', duration: { kind: 'percent', percent: 5 } })
    const computing = new Computing(traces, recipe)
    const analyzer = createPool({ size: THREADS, createWorker: createAnalysisWorker, log })
    await computing.seconds(CAPTURES / PARTS)
    // Both sides begin with as many captures that do not count: threads compile what they run often.
    await warm(analyzer, traces, recipe)
    const spent = { stored: 0, pure: 0 }
    const ratios: number[] = []
    let measured = 0
    let failed = 0
    for (const campaignId of campaigns) {
      const before = (await computing.seconds(CAPTURES / PARTS)) / 2
      const start = performance.now()
      const report = await reanalyse({ store, analyzer, recipe, scope: { campaignId } })
      const stored = (performance.now() - start) / 1000
      const pure = before + (await computing.seconds(CAPTURES / PARTS)) / 2
      measured += report.measured
      failed += report.failed.length
      spent.stored += stored
      spent.pure += pure
      ratios.push((100 * pure) / stored)
    }
    await computing.close()
    await analyzer.close()
    await store.close()
    return [
      {
        what: 're-analysis of 10,000 stored captures, against pure computing on the same cores',
        value: (100 * spent.pure) / spent.stored,
        unit: '%',
        relation: 'at least',
        bound: 70,
        detail:
          `${measured} captures of 15,000 samples at ${(measured / spent.stored).toFixed(0)}/s, ${failed} failed; pure computing on ` +
          `${THREADS} threads ${(measured / spent.pure).toFixed(0)}/s; parts ${ratios.map((ratio) => ratio.toFixed(0)).join(', ')} %`,
      },
      {
        what: 'bytes a capture with its result costs on disk beyond its samples',
        value: (100 * (fileBytes - sampleBytes)) / sampleBytes,
        unit: '%',
        relation: 'under',
        bound: 5,
        detail: `file ${fileBytes} bytes, samples ${sampleBytes} bytes, ${CAPTURES} captures`,
      },
    ]
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}

/** 20,000 short captures, each measured under five recipes. */
export async function manyResults(): Promise<Figure[]> {
  const folder = mkdtempSync(join(tmpdir(), 'slewlight-bench-'))
  try {
    const store = await openAt(join(folder, 'many.slewlight'))
    const campaign = await store.createCampaign({ name: 'Invented', display: 'Invented', note: '' })
    const pairs = transitionsOf(LEVELS)
    const traces = samples(8, 0.002, 0.008)
    const recipes = [...RECIPE_PRESETS.slice(0, 1), ...[4, 5, 6, 7].map((percent) => withPercent(percent))]
    for (const recipe of recipes) await store.saveRecipe(recipe)
    const results = recipes.map((recipe) => traces.map((made) => measureCapture({ ...inputOf(made), recipe })))
    const sweepIds: number[] = []
    const perSweep = 300
    let count = 0
    for (let sweep = 0; count < 100_000; sweep++) {
      const at = { setting: `Setting ${1 + Math.floor(sweep / 12)}`, refreshHz: 48 + 12 * (sweep % 12) }
      const sweepId = await makeSweep(store, campaign.id, perSweep / pairs.length, perSweep, at)
      sweepIds.push(sweepId)
      const infos = await Promise.all(
        Array.from({ length: perSweep }, (_, i) => {
          const pair = pairs[i % pairs.length] as Transition
          const repeat = 1 + Math.floor(i / pairs.length)
          return store.addCapture(captureOf(sweepId, i, pair, repeat, traces[i % 8] as MadeTrace), null)
        }),
      )
      for (const ofRecipe of results) {
        const batch = infos.flatMap((info, i) => {
          const result = ofRecipe[i % 8]
          return result === undefined ? [] : [{ captureId: info.id, result }]
        })
        await store.addResults(batch)
        count += batch.length
      }
    }
    const random = uniform(3)
    const [first, second] = recipes as [Recipe, Recipe]
    const times: number[] = []
    for (let run = 0; run < 150; run++) {
      const sweepId = sweepIds[Math.floor(random() * sweepIds.length)] as number
      const start = performance.now()
      const [a, b] = await Promise.all(
        [first, second].map((recipe) =>
          store.matrix({ sweepId, recipeHash: recipeHash(recipe), measures: [...SUMMARY_MEASURES] }),
        ),
      )
      if (a === undefined || b === undefined) throw new Error('no matrix')
      cellStatistics(a, 'transition_duration_s', 10)
      summarise(a, first)
      compareRecipes({ data: a, recipe: first }, { data: b, recipe: second })
      times.push(performance.now() - start)
    }
    await store.close()
    const found = await findingsOf(join(folder, 'many.slewlight'), campaign.id, recipes)
    const kept = times.slice(10)
    return [
      ...found,
      {
        what: 'matrix and findings from an archive of 100,000 results, 95th percentile',
        value: percentile(kept, 0.95),
        unit: 'ms',
        relation: 'under',
        bound: 100,
        detail:
          `${count} results of ${sweepIds.length} sweeps; matrix of 300 captures under two recipes, cell statistics, summary, ` +
          `comparison: median ${medianOf(kept).toFixed(1)} ms, slowest ${Math.max(...kept).toFixed(1)} ms of ${kept.length}`,
      },
    ]
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}

function withPercent(percent: number): Recipe {
  return recipeSchema.parse({ name: `${percent}–${100 - percent} %`, duration: { kind: 'percent', percent } })
}
