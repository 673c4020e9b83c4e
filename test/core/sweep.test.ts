import { afterEach, describe, expect, it } from 'vitest'
import { AppError } from '#shared/domain/errors.ts'
import { walkOf } from '#shared/domain/walk.ts'
import { openBenchCore, planOf, type BenchCore } from '../support/bench-core.ts'
import { capturesOf } from '../support/captures.ts'

let bench: BenchCore | null = null
afterEach(async () => {
  await bench?.close()
  bench = null
})

async function readyBench(options: Parameters<typeof openBenchCore>[0] = {}): Promise<BenchCore> {
  bench = await openBenchCore(options)
  await bench.core.system.acknowledgeWarning({ understood: true })
  return bench
}

async function resumed(on: BenchCore, sweepId: number): Promise<void> {
  await on.core.sweeps.resume({ sweepId })
  await on.until((state) => state.sweep?.state === 'finished', 'the end of the sweep')
  await expectComplete(on, sweepId)
}

/** Every position of the walk has exactly one good capture with the walk's own levels. */
async function expectComplete(on: BenchCore, sweepId: number): Promise<void> {
  const sweep = await on.store.sweep({ sweepId })
  const rows = await capturesOf(on.store, { recipeHash: on.state().recipeHash, sweepId, verdict: 'good' })
  const taken = rows.map(({ info: { position, from, to, repeat } }) => ({ position, from, to, repeat }))
  expect(taken.sort((a, b) => a.position - b.position)).toEqual(
    walkOf(sweep.plan).map(({ position, from, to, repeat }) => ({ position, from, to, repeat })),
  )
}

describe('sweep', () => {
  it('runs from ladder to matrix, every capture stored and measured', async () => {
    const on = await readyBench()
    const sweepId = await on.plan()
    await on.core.sweeps.start({ sweepId })
    await on.until((state) => state.sweep?.state === 'finished', 'the end of the sweep')
    await expectComplete(on, sweepId)
    const sweep = await on.store.sweep({ sweepId })
    expect(sweep.ladder?.steps.map((step) => step.level)).toEqual([0, 128, 255])
    expect(sweep).toMatchObject({ state: 'finished', total: 12, done: 12, missing: 0 })
    const matrix = await on.core.sweeps.matrix({
      sweepId,
      recipeHash: on.state().recipeHash,
      measures: ['transition_duration_s'],
    })
    expect(
      matrix.cells
        .flatMap((cell) => cell.entries.map((entry) => entry.values.transition_duration_s ?? 0))
        .every((value) => value > 1e-4),
    ).toBe(true)
    expect(on.state().sweep).toMatchObject({ done: 12, missing: 0, current: null })
  })

  it('has the dark level of the covered sensor in its ladder, and refuses one that light reaches', async () => {
    const on = await readyBench({ simulation: { darkV: 0.05 } })
    const plan = planOf()
    await on.core.stimulus.show({ plan, level: 255 })
    await expect(on.core.rig.dark({ plan })).rejects.toMatchObject({ code: 'conflict' })
    await on.core.rig.inject({ fault: 'covered' })
    const { meanV } = await on.core.rig.dark({ plan })
    await on.core.rig.inject({ fault: 'none' })
    expect(Math.abs(meanV - 0.05)).toBeLessThan(5e-4)
    const sweepId = await on.plan()
    await on.core.sweeps.start({ sweepId })
    await on.until((state) => state.sweep?.state === 'finished', 'the end of the sweep')
    const { ladder } = await on.store.sweep({ sweepId })
    expect(ladder?.darkV).toBe(meanV)
    expect(ladder?.steps[0]?.meanV).toBeGreaterThan(meanV)
  })

  it('does not start before the warning is acknowledged', async () => {
    bench = await openBenchCore()
    const sweepId = await bench.plan()
    await expect(bench.core.sweeps.start({ sweepId })).rejects.toMatchObject({ code: 'conflict' })
    expect((await bench.store.sweep({ sweepId })).state).toBe('ready')
  })

  it('pauses after the capture in hand and resumes without a duplicate or a gap', async () => {
    const on = await readyBench()
    const sweepId = await on.plan()
    await on.core.sweeps.start({ sweepId })
    await on.until((state) => (state.sweep?.done ?? 0) >= 3, 'the third capture')
    await on.core.sweeps.pause({ sweepId })
    await on.until((state) => state.sweep?.state === 'paused', 'the pause')
    const held = on.state().sweep?.done
    expect(held).toBeLessThan(12)
    await resumed(on, sweepId)
  })

  it('stops at once and keeps what is stored', async () => {
    const on = await readyBench()
    const sweepId = await on.plan()
    await on.core.sweeps.start({ sweepId })
    await on.until((state) => (state.sweep?.done ?? 0) >= 2, 'the second capture')
    await on.core.sweeps.stop({ sweepId })
    expect(on.state().sweep?.state).toBe('stopped')
    const sweep = await on.store.sweep({ sweepId })
    expect(sweep.state).toBe('stopped')
    expect(sweep.done).toBeGreaterThanOrEqual(2)
  })

  it('goes on by itself when a pulled cable comes back, at the cost of the capture in hand', async () => {
    const on = await readyBench()
    const sweepId = await on.plan()
    await on.core.sweeps.start({ sweepId })
    await on.until((state) => (state.sweep?.done ?? 0) >= 3, 'the third capture')
    await on.core.rig.inject({ fault: 'unplug' })
    await on.until((state) => state.sweep?.state === 'paused', 'the pause')
    expect(on.state().sweep?.reason).not.toBe('')
    expect(on.state().rig.problem).not.toBeNull()
    await on.core.rig.inject({ fault: 'replug' })
    await on.until((state) => state.sweep?.state === 'finished', 'the end of the sweep')
    await expectComplete(on, sweepId)
  })

  it('waits for a simulated display that is missed a moment before the rig it belongs to', async () => {
    let gone = false
    const on = await readyBench({
      wrapStimulus: (stimulus) => ({
        ...stimulus,
        show: async (...given) => {
          if (gone) throw new AppError('stimulus-absent', 'The simulated display is gone.')
          return stimulus.show(...given)
        },
      }),
    })
    const sweepId = await on.plan()
    await on.core.sweeps.start({ sweepId })
    await on.until((state) => (state.sweep?.done ?? 0) >= 3, 'the third capture')
    gone = true
    // The display is missed first, the rig within six seconds.
    await on.clock.sleep(5)
    expect(on.state().rig.status).not.toBe('lost')
    await on.core.rig.inject({ fault: 'unplug' })
    await on.until((state) => state.sweep?.state === 'paused', 'the pause')
    gone = false
    await on.core.rig.inject({ fault: 'replug' })
    await on.until((state) => state.sweep?.state === 'finished', 'the end of the sweep')
    await expectComplete(on, sweepId)
  })

  it.each(['flipped-bytes', 'wrong-length', 'noise-burst'] as const)(
    'retakes a capture spoiled by %s',
    async (fault) => {
      const on = await readyBench()
      const sweepId = await on.plan()
      await on.core.sweeps.start({ sweepId })
      await on.until((state) => (state.sweep?.done ?? 0) >= 2, 'the second capture')
      await on.core.rig.inject({ fault })
      await on.until((state) => (state.sweep?.retakes ?? 0) >= 1, 'a retake')
      await on.core.rig.inject({ fault: 'none' })
      await on.until((state) => state.sweep?.state === 'finished' || state.sweep?.state === 'paused', 'the end')
      if (on.state().sweep?.state === 'paused') {
        await on.core.sweeps.resume({ sweepId })
        await on.until((state) => state.sweep?.state === 'finished', 'the end of the sweep')
      }
      await expectComplete(on, sweepId)
      expect(on.state().rig.losses).toBeGreaterThan(0)
    },
  )

  it('pauses with the reason when the archive refuses a capture, and goes on afterwards', async () => {
    let refusing = false
    const on = await readyBench({
      beforeOperation: (name) => {
        if (name === 'addCapture' && refusing)
          throw Object.assign(new Error('The disk is full.'), { code: 'archive-disk-full' })
      },
    })
    const sweepId = await on.plan()
    await on.core.sweeps.start({ sweepId })
    await on.until((state) => (state.sweep?.done ?? 0) >= 2, 'the second capture')
    refusing = true
    await on.until((state) => state.sweep?.state === 'paused', 'the pause')
    expect(on.state().sweep?.reason).toContain('disk is full')
    refusing = false
    await resumed(on, sweepId)
  })

  it('marks a sweep that a dead process left running as paused', async () => {
    const on = await readyBench()
    const sweepId = await on.plan()
    await on.store.setSweepState(sweepId, 'running', '')
    const again = await openBenchCoreOn(on)
    expect((await again.sweep({ sweepId })).state).toBe('paused')
  })

  it('refuses a second sweep while one runs', async () => {
    const on = await readyBench()
    const first = await on.plan()
    const second = await on.plan()
    await on.core.sweeps.start({ sweepId: first })
    await expect(on.core.sweeps.start({ sweepId: second })).rejects.toMatchObject({ code: 'conflict' })
    await on.core.sweeps.stop({ sweepId: first })
  })

  it('keeps to the flash limit over ladder, walk and retakes', async () => {
    const on = await readyBench()
    const sweepId = await on.plan({ levels: [0, 255], repeats: 3 })
    await on.core.sweeps.start({ sweepId })
    await on.until((state) => state.sweep?.state === 'finished', 'the end of the sweep')
    const rows = await capturesOf(on.store, { recipeHash: on.state().recipeHash, sweepId })
    const switches = rows.map((row) => row.info.frameLog?.switchMs ?? 0)
    const gaps = switches.slice(1).map((at, i) => at - (switches[i] ?? 0))
    expect(Math.min(...gaps)).toBeGreaterThanOrEqual(planOf().spacingS * 1000 - 1000 / 60)
  })
})

/** Closes the host on an archive and opens the archive again the way a new process would. */
async function openBenchCoreOn(on: BenchCore): Promise<BenchCore['store']> {
  const { archive } = on
  await on.store.close()
  const again = await openBenchCore({ archive })
  const previous = bench
  bench = {
    ...again,
    close: async () => {
      await again.close()
      await previous?.core.rig.disconnect()
    },
  }
  return again.store
}
