/** What a person waits for who opens the findings of a large campaign: read from an archive, and from memory alone. */
import { campaignFigures } from '#main/core/campaign/findings.ts'
import type { Store } from '#main/core/ports.ts'
import { createClock } from '#main/platform/clock.ts'
import { openStore } from '#main/store/store.ts'
import { DEFAULT_RECIPE, type Recipe, recipeHash } from '#shared/domain/recipe.ts'
import { transitionsOf } from '#shared/domain/plan.ts'
import type { MatrixData, MatrixEntry } from '#shared/domain/views.ts'
import { answer } from '#shared/findings/campaign/answer.ts'
import { DEFAULT_LIMITS, type MeasuredPoint } from '#shared/findings/campaign/figures.ts'
import { measuredPoint, POINT_MEASURES } from '#shared/findings/campaign/points.ts'
import { sentences } from '#shared/findings/campaign/sentences.ts'
import { uniform } from '../reference/waves.ts'
import { createStoreWorker } from '../support/workers.ts'
import { type Figure, medianOf, percentile, timeRuns } from './report.ts'

const log = { info: () => undefined, warn: () => undefined, error: () => undefined }

export function openAt(path: string): Promise<Store> {
  return openStore({ path, createWorker: createStoreWorker, clock: createClock(), log })
}

const told = (points: readonly MeasuredPoint[]): number =>
  sentences(answer(points, DEFAULT_LIMITS, 'equal'), DEFAULT_LIMITS).length

/**
 * Times from the question to the last sentence: the first time under each recipe after the archive was opened, and
 * again after a decision on one capture, whose sweep is then computed anew. The first round, in which threads compile what they run, does not count.
 */
export async function findingsOf(path: string, campaignId: number, recipes: readonly Recipe[]): Promise<Figure[]> {
  const first: number[] = []
  const again: number[] = []
  let captures = 0
  let sweepCount = 0
  for (let round = 0; round < 7; round++) {
    const store = await openAt(path)
    let decided = 0
    for (const recipe of recipes)
      for (const times of [first, again]) {
        const start = performance.now()
        const { sweeps } = await campaignFigures(store, campaignId, recipeHash(recipe), recipe)
        told(sweeps.map(({ point }) => point))
        times.push(performance.now() - start)
        captures = sweeps.reduce((sum, { sweep }) => sum + sweep.done, 0)
        sweepCount = sweeps.length
        const decision = decided++ % 2 === 0 ? 'exclude' : 'keep'
        await store.addReview({ captureId: 1, decision, reason: 'Invented.', reviewer: 'Bench', override: null })
      }
    await store.close()
  }
  const figure = (which: string, all: readonly number[]): Figure => {
    const times = all.slice(recipes.length)
    return {
      what: `findings of a whole campaign from an archive of 100,000 results, ${which}, 95th percentile`,
      value: percentile(times, 0.95),
      unit: 'ms',
      relation: 'under',
      bound: 100,
      detail: `${captures} results of ${sweepCount} sweeps: median ${medianOf(times).toFixed(1)} ms, slowest ${Math.max(...times).toFixed(1)} ms of ${times.length}`,
    }
  }
  return [
    figure('the first time under a recipe', first),
    figure('again after a decision on one capture', again),
    inMemory(),
  ]
}

const SWEEPS = 335
const REPEATS = 10

/** Invented results, all in memory: from them to the last sentence on one thread. */
function inMemory(): Figure {
  const random = uniform(11)
  const pairs = transitionsOf([0, 51, 102, 153, 204, 255])
  const entryOf = (captureId: number, repeat: number, size: number): MatrixEntry => ({
    captureId,
    repeat,
    values: Object.fromEntries(
      POINT_MEASURES.map((id) => [id, id === 'in_window' ? Number(random() < 0.9) : size * (1 + 0.04 * random())]),
    ),
    uncertainties: Object.fromEntries(POINT_MEASURES.map((id) => [id, 0.01 * size])),
    common: Object.fromEntries(POINT_MEASURES.map((id) => [id, 0.002 * size])),
    flagCount: 0,
    excluded: false,
    overridden: false,
  })
  const sweeps = Array.from({ length: SWEEPS }, (_, sweep) => ({
    sweepId: sweep + 1,
    setting: `Setting ${1 + Math.floor(sweep / 20)}`,
    refreshHz: 48 + 12 * (sweep % 20),
    data: (): MatrixData => ({
      sweepId: sweep + 1,
      recipeHash: '',
      levels: [0, 51, 102, 153, 204, 255],
      cells: pairs.map(({ from, to }, k) => ({
        from,
        to,
        entries: Array.from({ length: REPEATS }, (__, i) =>
          entryOf(300 * sweep + REPEATS * k + i, i + 1, 0.002 + 0.004 * random()),
        ),
      })),
      unmeasured: 0,
    }),
  })).map(({ data, ...of }) => ({ of, data: data() }))
  let points: MeasuredPoint[] = []
  const sayings = (): number => told(points)
  const whole = (): void => {
    // As new ones: what is known of a matrix from the time before would not be drawn again.
    points = sweeps.map(({ of, data }) => measuredPoint(of, { ...data }, DEFAULT_RECIPE))
    sayings()
  }
  const times = timeRuns(whole, 40, 5)
  const answers = timeRuns(sayings, 40, 5)
  return {
    what: 'findings over 100,000 results in memory (figures, answer, sentences), 95th percentile',
    value: percentile(times, 0.95),
    unit: 'ms',
    relation: 'under',
    bound: 100,
    detail:
      `${SWEEPS * pairs.length * REPEATS} results of ${SWEEPS} sweeps: median ${medianOf(times).toFixed(1)} ms of ${times.length}; ` +
      `answer and sentences alone ${percentile(answers, 0.95).toFixed(1)} ms, median ${medianOf(answers).toFixed(1)}`,
  }
}
