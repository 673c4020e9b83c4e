import { describe, expect, it } from 'vitest'
import * as fc from 'fast-check'
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
} from '../../src-renderer/ui/format.ts'
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
})
