/** Captures a person sends back, from the decision to the capture that counts instead. */
import { afterEach, describe, expect, it } from 'vitest'
import { recipeSchema } from '#shared/domain/recipe.ts'
import type { CaptureRow } from '#shared/domain/views.ts'
import { openBenchCore, type BenchCore } from '../support/bench-core.ts'
import { capturesOf } from '../support/captures.ts'

let bench: BenchCore | null = null
afterEach(async () => {
  await bench?.close()
  bench = null
})

async function finishedSweep(options: Parameters<typeof openBenchCore>[0] = {}): Promise<[BenchCore, number]> {
  const on = await openBenchCore(options)
  bench = on
  await on.core.system.acknowledgeWarning({ understood: true })
  const sweepId = await on.plan()
  await on.core.sweeps.start({ sweepId })
  await finish(on)
  return [on, sweepId]
}

const finish = (on: BenchCore): Promise<void> =>
  on.until(({ sweep }) => sweep?.state === 'finished' && sweep.current === null, 'the end of the sweep')

const rowsOf = (on: BenchCore, sweepId: number): Promise<readonly CaptureRow[]> =>
  capturesOf(on.store, { recipeHash: on.state().recipeHash, sweepId })

const sendBack = (on: BenchCore, captureId: number): Promise<unknown> =>
  on.core.reviews.add({ captureId, decision: 'retake', reason: 'Lamp was on.', reviewer: 'A. Tester', override: null })

describe('retake', () => {
  it('puts a capture in the queue, and a finished sweep takes just those again', async () => {
    const [on, sweepId] = await finishedSweep()
    const before = await rowsOf(on, sweepId)
    const chosen = [before[2], before[7]].map((row) => (row as CaptureRow).info)
    for (const info of chosen) await sendBack(on, info.id)

    expect(await on.core.sweeps.retakes({})).toMatchObject(
      chosen.map(({ id, from, to, repeat, position }) => ({
        sweepId,
        captureId: id,
        from,
        to,
        repeat,
        position,
        reason: 'Lamp was on.',
        reviewer: 'A. Tester',
        attempts: 0,
        obstacle: '',
      })),
    )
    expect(await on.core.sweeps.get({ sweepId })).toMatchObject({ total: 12, done: 10, missing: 0 })
    expect(on.state().sweep).toMatchObject({ sweepId, state: 'finished', total: 12, done: 10 })

    await on.core.sweeps.start({ sweepId })
    await finish(on)
    const after = await rowsOf(on, sweepId)
    expect(after.slice(0, 12).map((row) => row.info)).toEqual(before.map((row) => row.info))
    expect(
      after.slice(12).map(({ info: { from, to, repeat, position, verdict } }) => [from, to, repeat, position, verdict]),
    ).toEqual(chosen.map(({ from, to, repeat, position }) => [from, to, repeat, position, 'good']))
    expect(await on.core.sweeps.retakes({ sweepId })).toEqual([])
    expect(await on.core.sweeps.get({ sweepId })).toMatchObject({ state: 'finished', total: 12, done: 12, missing: 0 })
    expect(on.state().sweep).toMatchObject({ done: 12, total: 12, missing: 0 })

    // The old ones stay, and no longer count.
    expect(after.filter((row) => row.superseded).map((row) => row.info.id)).toEqual(chosen.map((info) => info.id))
    const { recipeHash } = on.state()
    const matrix = await on.core.sweeps.matrix({ sweepId, recipeHash, measures: ['arrival_s'] })
    const counting = matrix.cells.flatMap((cell) => cell.entries.map((entry) => entry.captureId))
    expect(counting.toSorted((a, b) => a - b)).toEqual(after.filter((row) => !row.superseded).map((row) => row.info.id))
    expect(matrix.cells.flatMap((cell) => cell.entries).every((entry) => !entry.excluded)).toBe(true)
    const [first] = chosen
    expect((await on.core.captures.get({ captureId: first?.id ?? 0, recipeHash })).supersededBy).toBe(
      after[12]?.info.id,
    )
    // Nothing is left, and what was taken again cannot be sent back twice.
    await expect(on.core.sweeps.start({ sweepId })).rejects.toMatchObject({ code: 'conflict' })
    await expect(sendBack(on, first?.id ?? 0)).rejects.toMatchObject({
      code: 'conflict',
      message: expect.stringContaining(`capture ${after[12]?.info.id} counts`) as string,
    })
    const log = await on.core.system.log({ sweepId, limit: 200 })
    expect(log.map((entry) => entry.text)).toContain('The sweep resumes: 2 captures to take again.')
    // Undone after the fact, the newer capture still counts.
    const undone = await on.core.reviews.undo()
    expect(undone?.words).toContain('already been retaken')
    expect(await on.core.sweeps.get({ sweepId })).toMatchObject({ done: 12, missing: 0 })
    expect(await on.core.sweeps.retakes({})).toEqual([])
  })

  it('is measured under every recipe that has measured its sweep', async () => {
    const [on, sweepId] = await finishedSweep()
    const { hash } = await on.core.recipes.save(
      recipeSchema.parse({ name: 'Twenty', duration: { kind: 'percent', percent: 20 } }),
    )
    const measured = (count: number) =>
      on.until(
        ({ jobs }) => jobs.length === count && jobs.every((job) => job.state === 'finished'),
        'the end of the measuring',
      )
    await on.core.recipes.reanalyse({ recipeHash: hash, sweepId })
    await measured(1)
    await sendBack(on, (await rowsOf(on, sweepId))[3]?.info.id ?? 0)
    await on.core.sweeps.start({ sweepId })
    await finish(on)
    await measured(2)
    for (const recipeHash of [on.state().recipeHash, hash]) {
      const matrix = await on.core.sweeps.matrix({ sweepId, recipeHash, measures: ['transition_duration_s'] })
      expect(matrix.unmeasured).toBe(0)
      const entries = matrix.cells.flatMap((cell) => cell.entries)
      expect(entries).toHaveLength(12)
      expect(entries.every((entry) => (entry.values.transition_duration_s ?? 0) > 0)).toBe(true)
    }
  })

  it('leaves the queue when it is undone before it has run', async () => {
    const [on, sweepId] = await finishedSweep()
    const { id } = ((await rowsOf(on, sweepId))[4] as CaptureRow).info
    await sendBack(on, id)
    expect(await on.core.reviews.steps()).toEqual({
      undo: expect.stringMatching(`^send back capture ${id} \\(`) as string,
      redo: null,
    })
    expect((await on.core.reviews.undo())?.words).toMatch(/^Undone: send back capture .*not be retaken/)
    expect(await on.core.sweeps.retakes({ sweepId })).toEqual([])
    expect(await on.core.sweeps.get({ sweepId })).toMatchObject({ done: 12, missing: 0 })
    expect(on.state().sweep).toMatchObject({ done: 12, total: 12 })
    await expect(on.core.sweeps.start({ sweepId })).rejects.toMatchObject({ code: 'conflict' })
    await on.core.reviews.redo()
    expect(await on.core.sweeps.retakes({ sweepId })).toMatchObject([{ captureId: id }])
  })

  it('can be taken back while the sweep that retakes runs', async () => {
    const [on, sweepId] = await finishedSweep()
    const rows = await rowsOf(on, sweepId)
    const [first, second] = [rows[1]?.info.id ?? 0, rows[9]?.info.id ?? 0]
    await sendBack(on, first)
    await sendBack(on, second)
    await on.core.sweeps.start({ sweepId })
    // The one that is next to last is being recorded when the last is taken back.
    await on.core.reviews.undo()
    await finish(on)
    const after = await rowsOf(on, sweepId)
    expect(after).toHaveLength(13)
    expect(after.filter((row) => row.superseded).map((row) => row.info.id)).toEqual([first])
    expect(await on.core.sweeps.get({ sweepId })).toMatchObject({ state: 'finished', done: 12, missing: 0 })
    expect(on.state().sweep).toMatchObject({ done: 12, total: 12 })
  })

  it('drops the recording in hand when its retake is taken back under it', async () => {
    let undoing: (() => Promise<unknown>) | null = null
    const [on, sweepId] = await finishedSweep({
      async beforeOperation(name) {
        if (name !== 'addCapture') return
        await undoing?.()
        undoing = null
      },
    })
    const { id } = ((await rowsOf(on, sweepId))[3] as CaptureRow).info
    await sendBack(on, id)
    undoing = () => on.core.reviews.undo()
    await on.core.sweeps.start({ sweepId })
    await finish(on)
    expect(await rowsOf(on, sweepId)).toHaveLength(12)
    expect(await on.core.sweeps.get({ sweepId })).toMatchObject({ state: 'finished', done: 12, missing: 0 })
    const log = await on.core.system.log({ sweepId, limit: 200 })
    expect(log.some((entry) => entry.text.endsWith('it is no longer sent back.'))).toBe(true)
  })
})
