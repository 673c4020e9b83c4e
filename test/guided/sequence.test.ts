/** The mechanism of guided sequences: accept, again, skip, back, stop, resume, and a meter that fails in the middle. */
import { afterEach, describe, expect, it } from 'vitest'
import type { Meters } from '#main/core/ports.ts'
import { AppError } from '#shared/domain/errors.ts'
import { rowsOf } from '#shared/domain/record-kinds.ts'
import { calibrate, person, type Person } from './person.ts'

let at: Person | null = null
afterEach(async () => {
  await at?.close()
  at = null
})

const METER = { kind: 'tcp', host: '127.0.0.1', port: 5025 } as const
/** Says what the list says, one number a question; an error is thrown. */
const meters = (answers: readonly (number | AppError)[]): Meters => {
  const left = [...answers]
  return {
    async read() {
      const next = left.shift() ?? 100
      if (next instanceof AppError) throw next
      return { value: next, identity: 'Invented works, Luminance meter' }
    },
  }
}

describe('a guided sequence', () => {
  it('reads uniformity at nine places by the calibrated photodiode, as the light of the display is', async () => {
    at = await person()
    await expect(at.begin({ sequence: 'uniformity', by: 'photodiode' })).rejects.toMatchObject({
      code: 'conflict',
      message: expect.stringContaining('not calibrated') as string,
    })
    await calibrate(at)
    await at.begin({ sequence: 'uniformity', by: 'photodiode' })
    const first = await at.asked()
    expect(first).toMatchObject({
      phase: 'moving',
      index: 0,
      instruction: 'Put the sensor on the ring: top left',
      answers: ['next', 'skip'],
    })
    await expect(at.say('accept')).rejects.toMatchObject({ code: 'conflict' })
    expect(await at.goOn()).toBeNull()
    const points = await at.readings('uniformity-point')
    expect(points).toHaveLength(9)
    expect(points[5]).toMatchObject({
      quantity: 'luminance',
      unit: 'cd/m²',
      place: 'middle right (83 % across, 50 % down)',
    })
    // The simulated light: 200·(1 − 0.22·(dx² + dy²) − 0.04·dx), dx and dy from the middle at −1/3, 0, 1/3.
    const thirds = [-1 / 3, 0, 1 / 3]
    const expected = thirds.flatMap((dy) => thirds.map((dx) => 200 * (1 - 0.22 * (dx * dx + dy * dy) - 0.04 * dx)))
    const [reading] = await at.readings('uniformity')
    const rows = reading === undefined ? [] : rowsOf(reading).map(([value]) => value as number)
    expect(rows).toHaveLength(9)
    // The scale is exact here; what is left is the noise of half a second.
    rows.forEach((value, i) => expect(Math.abs(value / (expected[i] as number) - 1)).toBeLessThan(0.001))
    // u is the meter's 1 %, at the brightest place.
    expect(reading?.u).toBeCloseTo(0.01 * Math.max(...expected), 1)
    expect(await at.bench.core.guided.open({ campaignId: at.campaignId })).toEqual([])
  })

  it('takes again, goes back and leaves out; what was replaced is out of the lists', async () => {
    at = await person({ meters: meters([10, 11, 20, 12, 30]) })
    await at.begin({ sequence: 'angle', by: 'meter', meter: METER, angles: [0, 30, -30], u: 0.5 })
    await at.asked()
    await at.say('next')
    expect((await at.asked())?.values).toEqual([{ quantity: 'luminance', unit: 'cd/m²', value: 10, u: 0.5 }])
    await at.say('again')
    await at.asked()
    await at.say('next')
    expect((await at.asked())?.values[0]?.value).toBe(11)
    await at.say('accept')
    expect(await at.asked()).toMatchObject({ index: 1, instruction: 'Aim the meter at the ring from the right: 30°' })
    await at.say('next')
    await at.asked()
    await at.say('accept')
    // At −30°: back to 30°, and once more to 0°, which is read anew.
    expect(await at.asked()).toMatchObject({ index: 2 })
    await at.say('back')
    expect(await at.asked()).toMatchObject({ index: 1, answers: ['next', 'skip', 'back'] })
    await at.say('back')
    await at.asked()
    await at.say('next')
    await at.asked()
    await at.say('accept')
    // 30° stands as it was; −30° is next.
    expect(await at.asked()).toMatchObject({ index: 2 })
    await at.say('skip')
    expect(await at.asked()).toBeNull()
    const [whole] = await at.readings('viewing-angle')
    expect(whole && rowsOf(whole)).toEqual([
      [0, 12],
      [30, 20],
    ])
    expect(whole).toMatchObject({ u: 0.5, place: 'centre, horizontal', source: 'Invented works, Luminance meter' })
    expect((await at.readings('viewing-angle-point')).map(({ value, place }) => [value, place])).toEqual([
      [20, 'horizontal, 30°'],
      [12, 'horizontal, 0°'],
    ])
  })

  it('says why a meter did not answer, takes a typed value in its place, and reads the next again', async () => {
    const lost = new AppError('rig-timeout', 'The meter did not answer.', 'Check its cable.')
    at = await person({ meters: meters([50, lost, lost, 70]) })
    await at.begin({ sequence: 'ladder', by: 'meter', meter: METER, codes: [0, 128, 255] })
    // Only the first level needs a hand.
    await at.asked()
    await at.say('next')
    await at.asked()
    await at.say('accept')
    expect(await at.asked()).toMatchObject({
      phase: 'failed',
      index: 1,
      problem: 'The meter did not answer. Check its cable.',
      answers: ['next', 'typed', 'skip', 'back'],
      fields: [{ quantity: 'luminance', unit: 'cd/m²' }],
    })
    await at.say('next')
    expect((await at.asked())?.phase).toBe('failed')
    await expect(at.say([-1])).rejects.toMatchObject({ code: 'invalid-input' })
    await at.say([60])
    expect(await at.asked()).toBeNull()
    const [whole] = await at.readings('luminance-ladder')
    expect(whole && rowsOf(whole)).toEqual([
      [0, 50],
      [128, 60],
      [255, 70],
    ])
  })

  it('refuses at once what could not be stored of the whole at the end, typed or by a meter', async () => {
    at = await person({ meters: meters([1e25]) })
    await at.begin({ sequence: 'ladder', by: 'meter', meter: METER, codes: [0, 255] })
    await at.asked()
    await at.say('next')
    expect(await at.asked()).toMatchObject({
      phase: 'failed',
      problem: expect.stringContaining('1e+25 cd/m²') as string,
    })
    for (const absurd of [1e300, 1e-300, -1])
      // oxlint-disable-next-line no-await-in-loop
      await expect(at.say([absurd])).rejects.toMatchObject({ code: 'invalid-input' })
    await at.say([0.2])
    await at.asked()
    expect(await at.goOn()).toBeNull()
    const [whole] = await at.readings('luminance-ladder')
    expect(whole && rowsOf(whole)).toEqual([
      [0, 0.2],
      [255, 100],
    ])
  })

  it('stops at any moment, keeps what was taken, and goes on after the program was ended', async () => {
    at = await person()
    await calibrate(at)
    const jobId = await at.begin({ sequence: 'uniformity', by: 'photodiode' })
    await at.goOn(({ index }) => index === 4)
    await expect(at.begin({ sequence: 'uniformity', by: 'typed' })).rejects.toMatchObject({ code: 'conflict' })
    await at.bench.core.jobs.cancel({ jobId })
    expect(await at.asked()).toBeNull()
    expect(await at.readings('uniformity')).toEqual([])
    const { campaignId, bench } = at
    const [left] = await bench.core.guided.open({ campaignId })
    expect(left).toMatchObject({ taken: 4, total: 9, plan: { sequence: 'uniformity', places: 9 } })
    await bench.core.guided.resume({ campaignId, sequenceId: left?.sequenceId ?? 0 })
    expect(await at.asked()).toMatchObject({ index: 4, instruction: 'Put the sensor on the ring: middle centre' })
    // A place left out leaves the whole open.
    await at.say('skip')
    expect(await at.goOn()).toBeNull()
    expect(bench.state().jobs.at(-1)?.problem).toBe('1 of 9 steps were left out. Resume the sequence to take them.')
    await bench.core.guided.resume({ campaignId, sequenceId: left?.sequenceId ?? 0 })
    expect(await at.goOn()).toBeNull()
    expect(await at.readings('uniformity')).toHaveLength(1)
    expect(await bench.core.guided.open({ campaignId })).toEqual([])
    await expect(bench.core.guided.resume({ campaignId, sequenceId: left?.sequenceId ?? 0 })).rejects.toMatchObject({
      code: 'not-found',
    })
  })

  it('shows patches in the order of a list and waits for an instrument that keeps its own values', async () => {
    at = await person()
    const patches: [number, number, number][] = [
      [255, 0, 0],
      [0, 255, 0],
      [10, 10, 10],
    ]
    await at.begin({ sequence: 'colour', by: 'file', patches })
    expect(await at.asked()).toMatchObject({ phase: 'moving', instruction: 'Put the instrument on the mark' })
    await at.say('next')
    expect(await at.asked()).toMatchObject({ phase: 'may-read', index: 0, answers: ['next', 'skip'] })
    expect(at.bench.state().stimulus.level).toBe(255)
    await at.say('next')
    expect(await at.asked()).toMatchObject({ phase: 'may-read', index: 1 })
    await at.say('next')
    await at.asked()
    expect(at.bench.state().stimulus.level).toBe(10)
    await at.say('next')
    expect(await at.asked()).toBeNull()
    expect(await at.readings('colour-patches')).toEqual([])
  })

  it('takes colours typed in and makes them one reading under the state of the display', async () => {
    at = await person()
    await at.begin({ sequence: 'colour', by: 'typed', patches: [[255, 255, 255]], label: 'After calibration', u: 0.3 })
    await at.asked()
    await at.say('next')
    expect((await at.asked())?.fields.map(({ quantity }) => quantity)).toEqual(['X', 'Y', 'Z'])
    await at.say([95.05, 100, 108.9])
    expect(await at.asked()).toBeNull()
    expect((await at.readings('colour-patches'))[0]).toMatchObject({
      quantity: 'After calibration',
      series: [255, 255, 255, 95.05, 100, 108.9],
      u: 0.3,
    })
  })
})
