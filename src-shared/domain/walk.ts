import type { SweepPlan, Transition } from './plan.ts'

/** One planned capture: its place in the sweep, the transition and which repeat it is (1-based). */
export interface WalkStep extends Transition {
  readonly position: number
  readonly repeat: number
}

/** Small seeded generator (mulberry32): uniform in [0, 1). Enough for shuffling; no security use. */
function seededRandom(seed: number): () => number {
  let state = seed >>> 0
  return () => {
    state = (state + 0x6d2b79f5) >>> 0
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state)
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296
  }
}

function shuffled<T>(items: readonly T[], random: () => number): T[] {
  const copy = [...items]
  for (let i = copy.length - 1; i > 0; i--) {
    const j = Math.floor(random() * (i + 1))
    const held = copy[i] as T
    copy[i] = copy[j] as T
    copy[j] = held
  }
  return copy
}

/**
 * Eulerian circuit of the complete digraph over `levels` by Hierholzer's algorithm: every ordered pair once, each
 * transition starting where the last one ended, ending at `start`. Every vertex has equal in- and out-degree, so the
 * circuit always exists. The seed picks one of the many circuits.
 */
export function eulerianCircuit(levels: readonly number[], start: number, random: () => number): Transition[] {
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
