/** Filling the demo library where it cannot be finished: it ends by name, soon, and nothing goes on behind it. */
import { setImmediate } from 'node:timers/promises'
import { expect, it } from 'vitest'
import { DEMO } from '#main/core/demo/content.ts'
import { fillDemo } from '#main/core/demo/fill.ts'
import type { Store } from '#main/core/ports.ts'
import { AppError } from '#shared/domain/errors.ts'
import { clock, testTrace } from '../store/fixtures.ts'
import { storePerTest } from '../store/per-test.ts'

const on = storePerTest()

/** Fills with short records; `onCapture` is told how many captures were asked for before each is stored. */
async function fill(
  onCapture: (asked: number) => void,
  signal?: AbortSignal,
): Promise<{ readonly failure: unknown; readonly asked: number }> {
  let asked = 0
  const addCapture: Store['addCapture'] = async (...given) => {
    asked += 1
    onCapture(asked)
    return on.store.addCapture(...given)
  }
  const frameLog = { source: 'controller', frameMs: 16.7, switchMs: 0, dropped: false } as const
  const error = { code: 'internal', message: 'Not measured.', remedy: '' } as const
  const failure = await fillDemo({
    store: new Proxy(on.store, {
      get: (target, name: keyof Store) => (name === 'addCapture' ? addCapture : target[name]),
    }),
    analyzer: {
      concurrency: 2,
      async measureMany(inputs) {
        await setImmediate()
        return inputs.map(() => ({ error }))
      },
    },
    clock,
    benchOf: () => ({
      ladder: { steps: [], darkV: null, takenAt: clock.iso() },
      record: ({ position }) => ({ trace: testTrace(position, 100), triggerIndex: 20, frameLog }),
    }),
    library: DEMO,
    signal,
  }).then(
    () => null,
    (reason: unknown) => reason,
  )
  return { failure, asked }
}

it('a full disk ends it', async () => {
  const full = new AppError('archive-disk-full', 'The disk is full.', 'Free space.')
  // The first capture of the second sweep, which has 168.
  const { failure, asked } = await fill((count) => {
    if (count > 12) throw full
  })
  expect(failure).toBe(full)
  // Four lanes had 32 each in hand.
  expect(asked).toBeLessThanOrEqual(12 + 4 * 32)
})

it('cancelling ends it, and nothing is stored afterwards', async () => {
  const stop = new AbortController()
  const { failure, asked } = await fill((count) => {
    if (count === 100) stop.abort()
  }, stop.signal)
  expect(failure).toMatchObject({ code: 'cancelled' })
  expect(asked).toBeLessThan(400)
  expect((await on.store.info()).captures).toBe(asked)
})
