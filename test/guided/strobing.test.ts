/** Strobing by place and flicker by brightness on the simulated rig, against closed forms. */
import { afterEach, describe, expect, it } from 'vitest'
import { strobePoints } from '#shared/record/strobe-points.ts'
import { calibrate, person, type Person } from './person.ts'

let at: Person | null = null
afterEach(async () => {
  await at?.close()
  at = null
})

describe('guided sequences of periodic light', () => {
  it('read pulse width, duty and crosstalk at three places', async () => {
    at = await person({ simulation: { backlight: 'strobe', panel: 'swift', detectorHz: 50_000 } })
    // With the level of the covered detector, which is not 0 V.
    await calibrate(at)
    await at.begin({ sequence: 'strobing', by: 'photodiode', setting: 'Off', refreshHz: 120, repeats: 2 })
    expect(await at.asked()).toMatchObject({ instruction: 'Put the sensor on the ring: top', index: 0 })
    expect(await at.goOn()).toBeNull()
    const points = strobePoints(await at.readings())
    const found = (place: string, quantity: string) =>
      points.find((point) => point.place === place && point.quantity === quantity)
    // One pulse a frame, a tenth of it wide: T/10 of 8.333 ms.
    for (const place of ['top', 'centre', 'bottom']) {
      const width = found(place, 'pulse_width')
      expect([place, Math.abs((width?.value ?? 0) - 10 / 12) < 3 * (width?.u ?? 0) + 0.01]).toEqual([place, true])
      expect(found(place, 'duty')?.value).toBeCloseTo(10, 0)
    }
    // A rise 0 → 255 of the swift panel: two lags, τ₁ = 1.9 ms (full step, one end white) and τ₂ = 0.22·τ₁. Its light has
    // 1 − [τ₁·e^(−t/τ₁) − τ₂·e^(−t/τ₂)]/(τ₁ − τ₂) of the step; crosstalk is the mean of what lacks over the pulse, which opens
    // 0.86·T after the frame’s start, y·0.95·T of it after the row was written.
    const T = 1000 / 120
    const [tau1, tau2, w] = [1.9, 1.9 * 0.22, 0.1 * T]
    const lacking = (t: number): number =>
      (tau1 ** 2 * Math.exp(-t / tau1) - tau2 ** 2 * Math.exp(-t / tau2)) / (tau1 - tau2)
    const crosstalk = (y: number, frames = 0): number => {
      const t = (0.86 + frames) * T - y * 0.95 * T
      return (100 * (lacking(t) - lacking(t + w))) / w
    }
    // The bottom row is written while the pulse is lit (0.9025·T): its frame is first seen in the next pulse.
    for (const [place, y, frames] of [
      ['top', 0.05, 0],
      ['centre', 0.5, 0],
      ['bottom', 0.95, 1],
    ] as const) {
      const got = found(place, 'crosstalk')
      // Samples at 50 kHz leave 1.3 % of one pulse of 42 samples.
      expect(got?.u).toBeLessThan(1.5)
      expect([place, got?.u != null && Math.abs(got.value - crosstalk(y, frames)) < 3 * got.u + 0.1]).toEqual([
        place,
        true,
      ])
    }
    // Bright pulses scatter by where samples fall on their edges; one of them is never taken for the first of a fall.
    for (const place of ['top', 'centre', 'bottom'])
      expect([place, (found(place, 'crosstalk_fall')?.value ?? 0) < 60]).toEqual([place, true])
    expect(points[0]).toMatchObject({ setting: 'Off', refreshHz: 120 })
  })

  it('say that light which does not strobe has no pulse', async () => {
    at = await person()
    await at.begin({ sequence: 'strobing', by: 'photodiode', refreshHz: 120, repeats: 1 })
    await at.asked()
    await at.say('next')
    expect(await at.asked()).toMatchObject({
      phase: 'failed',
      problem: expect.stringContaining('does not pulse') as string,
    })
    await at.say('skip')
    await at.asked()
    await at.say('skip')
    await at.asked()
    await at.say('skip')
    expect(await at.asked()).toBeNull()
    expect(await at.readings('strobe')).toEqual([])
  })

  it('read flicker and luminance at each brightness, with the regions as context', async () => {
    at = await person({ simulation: { backlight: 'pwm', pwmHz: 240 } })
    await calibrate(at)
    await at.begin({ sequence: 'flicker', by: 'photodiode', brightness: ['100 %', '50 %'] })
    expect((await at.asked())?.instruction).toBe('Set the display’s brightness to 100 %')
    expect(await at.goOn()).toBeNull()
    const [whole] = await at.readings('flicker-by-brightness')
    const row = (whole?.series ?? []).slice(0, 4) as number[]
    // Duty 0.6 between 1 and 0.2: mean 0.68 of white, percent flicker 0.8/1.2, index 0.6·0.32/0.68.
    expect(row[0]).toBeCloseTo(200 * 0.68, -0.5)
    expect(row[1]).toBeCloseTo(66.67, 0)
    expect(row[2]).toBeCloseTo((0.6 * 0.32) / 0.68, 1)
    expect(row[3]).toBeCloseTo(240, 1)
    expect((await at.readings('flicker-point'))[0]?.note).toContain('Context, not a verdict.')
  })
})
