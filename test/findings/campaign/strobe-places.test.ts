import { describe, expect, it } from 'vitest'
import type { Reading } from '#shared/domain/reading.ts'
import { crosstalkByPlace, strobeRows } from '#shared/findings/campaign/strobe-places.ts'
import { strobeSentences } from '#shared/findings/campaign/strobe-sentences.ts'
import type { StrobePlace } from '#shared/record/strobe-points.ts'
import { seededRandom } from '#shared/domain/seeded-random.ts'

let id = 0
const reading = (
  place: StrobePlace,
  value: number,
  u: number | null,
  quantity = 'crosstalk',
  setting = 'Strobe',
): Reading => ({
  id: ++id,
  campaignId: 1,
  sweepId: null,
  kind: 'strobe',
  quantity,
  unit: '%',
  value,
  series: null,
  u,
  source: '',
  place,
  note: '',
  setting,
  refreshHz: 120,
  at: '2031-01-01T00:00:00.000Z',
  addedAt: '2031-01-01T00:00:00.000Z',
  hidden: false,
})

describe('strobe crosstalk by place', () => {
  it('names the worst place where the uncertainties carry it, and every number with U95', () => {
    const all = crosstalkByPlace([
      reading('bottom', 47, 0.6),
      reading('centre', 10.4, 0.4),
      reading('top', 1.8, 0.2),
      // The newest counts.
      reading('bottom', 48.3, 0.6),
    ])
    expect(all).toHaveLength(1)
    expect(all[0]).toMatchObject({
      setting: 'Strobe',
      refreshHz: 120,
      worst: { place: 'bottom', step: 'rise', shown: true },
    })
    expect(all[0]?.places.map(({ place }) => place)).toEqual(['top', 'centre', 'bottom'])
    expect(strobeSentences(all, []).map(({ text }) => text)).toEqual([
      'Strobe at 120 Hz: strobe crosstalk is largest in size at the bottom, 48.3 ± 1.2 % of a brightening step, against 1.8 ± 0.4 % of a brightening step at the top and 10.4 ± 0.8 % of a brightening step at the centre.',
    ])
    expect(strobeRows(all)).toEqual([
      ['Strobe', '120', 'brighter', '1.8 ± 0.4 %', '10.4 ± 0.8 %', '48.3 ± 1.2 %', 'bottom'],
    ])
  })

  it('says nothing where the difference lies inside its uncertainty, where none is stated, and of one place', () => {
    for (const readings of [
      [reading('top', 5, 1), reading('bottom', 6, 1)],
      [reading('top', 5, null), reading('bottom', 60, null)],
      [reading('bottom', 60, 0.1)],
    ]) {
      const all = crosstalkByPlace(readings)
      expect(all[0]?.worst).toMatchObject({ place: 'bottom', shown: false })
      expect(strobeSentences(all, [])).toEqual([])
      expect(strobeRows(all)[0]?.at(-1)).toBe(readings.length === 1 ? 'one place only' : 'not shown')
    }
  })

  it('takes size, not sign, and both directions of a step', () => {
    const all = crosstalkByPlace([
      reading('top', 4, 0.2),
      reading('bottom', 6, 0.2),
      reading('top', -12, 0.3, 'crosstalk_fall'),
      reading('bottom', 3, 0.2, 'crosstalk_fall'),
    ])
    expect(all[0]?.worst).toEqual({ place: 'top', step: 'fall', shown: true })
    expect(strobeSentences(all, []).map(({ text }) => text)).toEqual([
      'Strobe at 120 Hz: strobe crosstalk is largest in size at the top, −12.0 ± 0.6 % of a darkening step, against 6.0 ± 0.4 % of a brightening step at the bottom.',
    ])
    // −12 and +12 are of one size, whatever their difference.
    const mirrored = crosstalkByPlace([reading('top', -12, 0.2), reading('bottom', 12.1, 0.2)])
    expect(mirrored[0]?.worst).toMatchObject({ shown: false })
  })

  it('names a worst place of three equal ones in at most 5 of 100 cases', () => {
    const random = seededRandom(20)
    const normal = (): number => Math.sqrt(-2 * Math.log(1 - random())) * Math.cos(2 * Math.PI * random())
    let named = 0
    for (let i = 0; i < 1000; i++) {
      const readings = (['top', 'centre', 'bottom'] as const).map((place) => reading(place, 10 + normal(), 1))
      if (crosstalkByPlace(readings)[0]?.worst?.shown === true) named++
    }
    expect(named).toBeLessThanOrEqual(50)
  })
})
