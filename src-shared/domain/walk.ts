import type { SweepPlan, Transition } from './plan.ts'
import { seededRandom, shuffled } from './seeded-random.ts'

/** One planned capture: its place in the sweep, the transition and which repeat it is (1-based). */
export interface WalkStep extends Transition {
  readonly position: number
  readonly repeat: number
}

/**
 * Eulerian circuit of the complete digraph over `levels` by Hierholzer's algorithm: every ordered pair once, each
 * transition starting where the last one ended, ending at `start`. Every vertex has equal in- and out-degree, so the
 * circuit always exists. The seed picks one of the many circuits.
 */
function eulerianCircuit(levels: readonly number[], start: number, random: () => number): Transition[] {
  const unused = new Map(
    levels.map((level) => [
      level,
      shuffled(
        levels.filter((other) => other !== level),
        random,
      ),
    ]),
  )
  const stack = [start]
  const visited: number[] = []
  while (stack.length > 0) {
    const here = stack[stack.length - 1] as number
    const next = unused.get(here)?.pop()
    if (next === undefined) visited.push(stack.pop() as number)
    else stack.push(next)
  }
  visited.reverse()
  return visited.slice(1).map((to, i) => ({ from: visited[i] as number, to }))
}

/**
 * Order of a whole sweep: one circuit per repeat, each another one, so that drift does not line up with levels. All
 * circuits start at the darkest level, so the walk never has to return between repeats.
 */
export function walkOf(plan: Pick<SweepPlan, 'levels' | 'repeats' | 'seed'>): WalkStep[] {
  const random = seededRandom(plan.seed)
  const start = plan.levels[0] as number
  const steps: WalkStep[] = []
  for (let repeat = 1; repeat <= plan.repeats; repeat++)
    for (const pair of eulerianCircuit(plan.levels, start, random))
      steps.push({ ...pair, repeat, position: steps.length })
  return steps
}
