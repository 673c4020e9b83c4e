import { describe, expect, it } from 'vitest'
import { fc } from '../support/fast-check.ts'
import { duration } from '#shared/domain/quantity-text.ts'
import {
  bytes,
  clockTime,
  count,
  displayUnit,
  fixed,
  hertz,
  milliseconds,
  plural,
  printMeasure,
  shortMeasure,
  significant,
  unbroken,
} from '../../src-renderer/ui/format.ts'
import { figureText } from '#shared/record/quantity.ts'
import { differenceText, differenceWithin } from '../../src-renderer/features/recipes/difference-text.ts'
import { MEASURE_IDS } from '#shared/domain/measures.ts'

describe('numbers on screen', () => {
  it('shows times in ms with two to three decimals where they matter', () => {
    expect(milliseconds(0.000812)).toBe('0.812')
    expect(milliseconds(0.0123456)).toBe('12.35')
    expect(milliseconds(0.2345)).toBe('234.5')
    expect(milliseconds(2.3456)).toBe('2346')
    expect(milliseconds(-0.00142)).toBe('−1.42')
  })

  it('does not change its decimals by rounding up across a border', () => {
    expect(milliseconds(0.00099996)).toBe('1.00')
    expect(milliseconds(0.099996)).toBe('100.0')
    expect(milliseconds(0.99997)).toBe('1000')
    expect(significant(9.996, 3)).toBe('10.0')
  })

  it('never prints a negative zero', () => {
    expect(fixed(-0.0004, 2)).toBe('0.00')
    expect(significant(-0, 3)).toBe('0')
  })

  it('keeps significant digits within half a unit of the last place', () => {
    fc.assert(
      fc.property(fc.double({ min: 1e-6, max: 1e9, noNaN: true }), fc.integer({ min: 1, max: 6 }), (value, digits) => {
        const shown = Number(significant(value, digits))
        expect(Math.abs(shown - value)).toBeLessThanOrEqual(value * 0.5001 * 10 ** (1 - digits))
      }),
    )
  })

  it('gives each measure the unit its heading names', () => {
    for (const id of MEASURE_IDS) {
      const printed = printMeasure(id, 0.5)
      if (id !== 'in_window') expect(printed.unit).toBe(displayUnit(id))
      expect(printed.text).not.toContain('e')
    }
    expect(printMeasure('noise_v', 0.0021)).toEqual({ text: '2.10', unit: 'mV' })
    expect(printMeasure('overshoot_pct', 7.25)).toEqual({ text: '7.3', unit: '%' })
    expect(printMeasure('snr', 1987)).toEqual({ text: '1990', unit: '' })
  })

  it('prints matrix cells in at most five characters for usual values', () => {
    expect(shortMeasure('transition_duration_s', 0.00412)).toBe('4.12')
    expect(shortMeasure('transition_duration_s', 0.0412)).toBe('41.2')
    expect(shortMeasure('transition_duration_s', 0.1412)).toBe('141')
    expect(shortMeasure('in_window', 2 / 3)).toBe('67')
    expect(shortMeasure('overshoot_code', -12.34)).toBe('−12.3')
  })

  it('writes spans, sizes and counts for people', () => {
    expect(duration(8.4)).toBe('8 s')
    expect(duration(185)).toBe('3 min 05 s')
    expect(duration(3720)).toBe('1 h 02 min')
    expect(duration(59.7)).toBe('1 min 00 s')
    expect(bytes(812)).toBe('812 B')
    expect(bytes(30_000)).toBe('30.0 kB')
    expect(bytes(999_900)).toBe('1.00 MB')
    expect(count(1_234_567)).toBe('1\u202f234\u202f567')
    expect(plural(1, 'capture')).toBe('1 capture')
    expect(plural(0, 'capture')).toBe('0 captures')
    expect(hertz(60)).toBe('60')
    expect(hertz(59.9402)).toBe('59.94')
    expect(clockTime('not a date')).toBe('not a date')
  })

  it('keeps a number of a sentence on one line with its unit', () => {
    expect(unbroken('shorter by 0.5 to 0.7 ms (U95 up to 10 points) at 60 and 144 Hz, 4 sweeps')).toBe(
      'shorter by 0.5 to 0.7\u00a0ms (U95 up to 10\u00a0points) at 60 and 144\u00a0Hz, 4 sweeps',
    )
    expect(unbroken('4.29 ± 0.01 ms at 5 % of 3 codes')).toBe(
      '4.29\u00a0±\u00a00.01\u00a0ms at 5\u00a0% of 3\u00a0codes',
    )
  })

  it('gives a difference of times two decimals of a millisecond, and does not pass off less as none', () => {
    expect(differenceText('settling_s', 0.000634)).toBe('+0.63 ms')
    expect(differenceText('settling_s', -0.01234)).toBe('−12.34 ms')
    expect(differenceText('settling_s', 0.000004)).toBe('≈ 0')
    expect(differenceText('settling_s', 0)).toBe('0')
  })

  it('gives a difference and its interval the same last digit', () => {
    expect(differenceWithin('settling_s', 0.00161, 0.000117)).toEqual(['+1.61', '± 0.12 ms'])
    expect(differenceWithin('settling_s', -0.000633, 0.00168)).toEqual(['−0.6', '± 1.7 ms'])
    expect(differenceWithin('in_window', 0.052, 0.01)).toEqual(['+5.2', '± 1.0 %'])
  })

  it('prints a figure of a record to the digits it carries', () => {
    const volume = { label: '', value: 1_156_238, unit: 'ΔE*ab³', u95: null }
    expect(figureText({ ...volume, digits: 3 })).toBe('1\u202f160\u202f000 ΔE*ab³')
    expect(figureText(volume)).toBe('1\u202f156\u202f000 ΔE*ab³')
    expect(figureText({ label: '', value: 0.5411, unit: '1', u95: null, digits: 3 })).toBe('0.541')
    expect(figureText({ label: '', value: 6974.2, unit: 'K', u95: null })).toBe('6974 K')
  })
})
