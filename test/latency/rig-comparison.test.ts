/** Runs through the simulated rig's bytes on a clock that jumps; `npm run latency-rig` does many. */
import { describe, expect, it } from 'vitest'
import { manualClock } from '../simulated/manual-clock.ts'
import { rigComparison } from './rig-comparison.ts'

async function compared(
  plan: Parameters<typeof rigComparison>[2],
  bytesPerSecond: number | null = null,
): Promise<Awaited<ReturnType<Awaited<ReturnType<typeof rigComparison>>['compare']>>> {
  const clock = manualClock()
  const stop = clock.run()
  const on = await rigComparison(clock, { pollS: 0, seed: 3 }, plan, bytesPerSecond)
  try {
    return await on.compare(1)
  } finally {
    await on.close()
    stop()
  }
}

describe('events of a run', () => {
  it('come at random moments of a frame on a slow link too, where arming outlasts the room between flashes', async () => {
    const { display } = await compared({ refreshHz: 60, events: 16, interleave: false }, 1200)
    // Range of 16 even draws: 15/17 of a frame; under a half with a chance of 3 in 10,000. At one moment it is 0.
    expect((display?.max ?? 0) - (display?.min ?? 0)).toBeGreaterThan(1000 / 60 / 2)
  })

  it('come at other moments on the reference than on the display', async () => {
    const { display, reference } = await compared({ refreshHz: 60, events: 8, interleave: false })
    // Without a poll the same moments would give the same mean to a few samples of 0.1 ms.
    expect(Math.abs((display?.mean ?? 0) - (reference?.mean ?? 0))).toBeGreaterThan(0.1)
  })
})
