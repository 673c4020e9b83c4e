import { describe, expect, it } from 'vitest'
import type { HostEvent, HostState, LogEntry } from '#shared/domain/views.ts'
import { AppError } from '#shared/domain/errors.ts'
import { appendLog, HostStore, LOG_LIMIT, type WatchableClient } from '../../src-renderer/client/host-store.ts'
import { startLivePuller } from '../../src-renderer/client/live-puller.ts'
import { throttle } from '../../src-renderer/client/throttle.ts'
import { topicsOf } from '../../src-renderer/client/topics.ts'
import { moveInGrid } from '../../src-renderer/ui/grid-moves.ts'
import { STATE } from '../transport/fake-core.ts'

const settle = () => new Promise((resolve) => setTimeout(resolve, 0))
const entry = (id: number): LogEntry => ({
  id,
  at: '2024-01-01T00:00:00Z',
  sweepId: null,
  level: 'info',
  text: `${id}`,
})
const hostState = (recipeHash: string): HostState => ({ ...STATE, recipeHash })

const nothing = (): void => undefined

/** A host whose event stream is fed and ended by the test. */
class FakeHost {
  readonly #queue: (HostEvent | null)[] = []
  #wake = nothing
  readonly #log: LogEntry[]

  constructor(log: LogEntry[] = []) {
    this.#log = log
  }

  readonly client: WatchableClient = {
    system: { watch: async () => this.#events(), log: async () => this.#log },
  }

  async emit(event: HostEvent | null): Promise<void> {
    this.#queue.push(event)
    this.#wake()
    await settle()
  }

  async *#events(): AsyncGenerator<HostEvent> {
    for (;;) {
      const next = this.#queue.shift()
      if (next === null) return
      if (next !== undefined) yield next
      else
        // The test feeds one event after the other.
        // oxlint-disable-next-line no-await-in-loop
        await new Promise<void>((resolve) => {
          this.#wake = resolve
        })
    }
  }
}

/** Animation frames as the test lets them come. */
class FakeFrames {
  readonly #waiting: (() => void)[] = []
  #resting: { readonly ms: number; readonly run: () => void } | null = null
  framesAsked = 0
  readonly nextFrame = (run: () => void): number => {
    this.framesAsked += 1
    return this.#waiting.push(run)
  }
  readonly cancelFrame = (): void => void this.#waiting.splice(0)
  readonly rest = (ms: number, run: () => void): (() => void) => {
    this.#resting = { ms, run }
    return () => {
      this.#resting = null
    }
  }

  /** Of the rest under way, ms; null when there is none. */
  get restMs(): number | null {
    return this.#resting?.ms ?? null
  }

  async frame(): Promise<void> {
    for (const run of this.#waiting.splice(0)) run()
    await settle()
  }

  async endRest(): Promise<void> {
    const resting = this.#resting
    this.#resting = null
    resting?.run()
    await settle()
  }
}

describe('host store', () => {
  it('shows the newest state, keeps it over a break and attaches again', async () => {
    const first = new FakeHost([entry(1)])
    const hosts = [first, new FakeHost([entry(1), entry(2)])]
    let connects = 0
    const waits: number[] = []
    const store = new HostStore({
      connect: async () => (hosts[connects++] as FakeHost).client,
      sleep: async (ms) => void waits.push(ms),
      now: () => 42,
    })
    store.start()
    await settle()
    expect(store.snapshot().link).toBe('open')
    expect(store.snapshot().log.map(({ id }) => id)).toEqual([1])
    await first.emit({ kind: 'state', state: hostState('a') })
    expect(store.snapshot()).toMatchObject({ stateAt: 42, state: { recipeHash: 'a' } })
    await first.emit(null)
    await settle()
    expect(connects).toBe(2)
    expect(waits).toEqual([500])
    expect(store.snapshot()).toMatchObject({ link: 'open', attempts: 0, state: { recipeHash: 'a' } })
    expect(store.snapshot().log.map(({ id }) => id)).toEqual([1, 2])
    store.stop()
  })

  it('waits longer and longer while the host is away', async () => {
    const waits: number[] = []
    const store: HostStore<WatchableClient> = new HostStore({
      connect: async () => {
        throw new AppError('timeout', 'The host does not answer.')
      },
      sleep: async (ms) => {
        waits.push(ms)
        if (waits.length === 6) store.stop()
      },
    })
    store.start()
    await settle()
    expect(waits).toEqual([500, 1000, 2000, 4000, 5000, 5000])
    expect(store.snapshot()).toMatchObject({ link: 'lost', client: null, problem: { code: 'timeout' } })
  })

  it('gives up where trying again is useless', async () => {
    let connects = 0
    const store = new HostStore<WatchableClient>({
      connect: async () => {
        connects += 1
        throw new AppError('conflict', 'This address is not valid.', 'Open the other one.')
      },
      sleep: async () => undefined,
    })
    store.start()
    await settle()
    expect(connects).toBe(1)
    expect(store.snapshot()).toMatchObject({ link: 'refused', problem: { remedy: 'Open the other one.' } })
  })

  it('keeps the log bounded, in order and without repeats', () => {
    const many = Array.from({ length: LOG_LIMIT + 20 }, (_, i) => entry(i + 1))
    expect(appendLog([], many)).toHaveLength(LOG_LIMIT)
    expect(appendLog([entry(3)], [entry(2), entry(3)]).map(({ id }) => id)).toEqual([2, 3])
    const same = [entry(1)]
    expect(appendLog(same, [entry(1)])).toBe(same)
  })
})

describe('live puller', () => {
  it('has one request under way at most, however slow the host', async () => {
    const clock = new FakeFrames()
    const asked: number[] = []
    let answer: (value: { revision: number } | null) => void = nothing
    const seen: number[] = []
    const stop = startLivePuller<{ revision: number }>({
      request: (since) => {
        asked.push(since)
        return new Promise((resolve) => {
          answer = resolve
        })
      },
      onFrame: ({ revision }) => seen.push(revision),
      onError: () => undefined,
      idleMs: () => 0,
      nextFrame: clock.nextFrame,
      cancelFrame: clock.cancelFrame,
      rest: clock.rest,
    })
    for (let frame = 0; frame < 4; frame++) await clock.frame()
    expect(asked).toEqual([0])
    answer({ revision: 7 })
    await settle()
    await clock.frame()
    expect(asked).toEqual([0, 7])
    expect(seen).toEqual([7])
    stop()
    answer({ revision: 8 })
    await settle()
    await clock.frame()
    expect(seen).toEqual([7])
    expect(asked).toHaveLength(2)
  })

  it('rests while nothing comes and after a failure, without asking for frames', async () => {
    const clock = new FakeFrames()
    let asks = 0
    const errors: unknown[] = []
    const stop = startLivePuller<{ revision: number }>({
      request: async () => {
        asks += 1
        if (asks === 2) throw new Error('gone')
        return null
      },
      onFrame: () => undefined,
      onError: (error) => errors.push(error),
      idleMs: () => 500,
      nextFrame: clock.nextFrame,
      cancelFrame: clock.cancelFrame,
      rest: clock.rest,
    })
    await clock.frame()
    expect([asks, clock.framesAsked, clock.restMs]).toEqual([1, 1, 500])
    await clock.frame()
    expect(asks).toBe(1)
    await clock.endRest()
    expect([asks, errors.length, clock.restMs]).toEqual([2, 1, 1000])
    await clock.endRest()
    expect([asks, clock.framesAsked, clock.restMs]).toEqual([3, 1, 500])
    stop()
    expect(clock.restMs).toBeNull()
    await clock.endRest()
    expect(asks).toBe(3)
  })
})

describe('throttle', () => {
  it('runs at once, then at intervals, and never loses the last call', () => {
    let now = 0
    let timer: { run: () => void; ms: number } | null = null
    const runs: number[] = []
    const call = throttle(() => runs.push(now), 300, {
      now: () => now,
      set: (run, ms) => (timer = { run, ms }),
      clear: () => (timer = null),
    })
    call()
    now = 100
    call()
    call()
    expect(runs).toEqual([0])
    expect(timer).toMatchObject({ ms: 200 })
    now = 300
    ;(timer as { run: () => void } | null)?.run()
    expect(runs).toEqual([0, 300])
    now = 900
    call()
    expect(runs).toEqual([0, 300, 900])
  })
})

describe('events', () => {
  it('make the right lists old', () => {
    expect(topicsOf({ kind: 'capture', captureId: 1, sweepId: 1, verdict: 'good' })).toContain('matrix')
    expect(topicsOf({ kind: 'changed', what: 'reviews' })).toContain('captures')
    expect(topicsOf({ kind: 'changed', what: 'recipes' })).toEqual(['recipes'])
    expect(topicsOf({ kind: 'log', entry: entry(1) })).toEqual([])
  })
})

describe('grid keys', () => {
  it('follow the grid pattern and stop at the borders', () => {
    expect(moveInGrid([0, 0], 'ArrowUp', false, 4)).toEqual([0, 0])
    expect(moveInGrid([1, 1], 'ArrowRight', false, 4)).toEqual([1, 2])
    expect(moveInGrid([2, 1], 'Home', false, 4)).toEqual([2, 0])
    expect(moveInGrid([2, 1], 'End', true, 4)).toEqual([3, 3])
    expect(moveInGrid([2, 1], 'PageDown', false, 4)).toEqual([3, 1])
    expect(moveInGrid([2, 1], 'Enter', false, 4)).toBeNull()
  })
})
