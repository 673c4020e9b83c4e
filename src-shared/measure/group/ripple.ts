/** Captures whose ripple is not the sweep's. */
import { reachOf } from '../flags/budget.ts'
import { counts, FALSE_ALARMS, FEWEST, type GroupFlag, type GroupRow } from './rows.ts'

/** Change of ripple frequency that stands out, %. */
const RIPPLE_LIMIT_PCT = 1
/** Harmonics of one waveform that are taken for it. */
const HARMONICS = 4

/**
 * `ripple-differs`: a ripple frequency more than 1 % (and more than its uncertainty allows) from the sweep's median. The
 * strongest component of one and the same waveform may be another of its harmonics from capture to capture: up to
 * four times (or a quarter of) the median is taken for the same ripple.
 */
export function rippleFlags(rows: readonly GroupRow[]): GroupFlag[] {
  const ripples = rows.flatMap((row) => {
    const value = row.values?.ripple_frequency_hz
    return value === null || value === undefined ? [] : [{ row, value, u: row.uncertainties?.ripple_frequency_hz ?? 0 }]
  })
  const counted = ripples.filter(counts)
  if (counted.length < FEWEST) return []
  // One that occurs: half the captures may show another harmonic than the other half.
  const median = counted.map((entry) => entry.value).sort((a, b) => a - b)[(counted.length - 1) >> 1]!
  const reach = reachOf(FALSE_ALARMS / ripples.length)
  return ripples.flatMap(({ row, value, u }) => {
    const limit = Math.max((RIPPLE_LIMIT_PCT / 100) * median, reach * u)
    const order = Math.max(1, Math.min(HARMONICS, Math.round(Math.max(value / median, median / value))))
    const asFirst = value > median ? value / order : value * order
    if (!(Math.abs(asFirst - median) > limit)) return []
    const evidence = `Its ripple of ${value.toPrecision(5)} Hz differs from the sweep’s ${median.toPrecision(5)} Hz.`
    return [
      {
        captureId: row.info.id,
        flag: { id: 'ripple-differs', evidence, value, limit: median, unit: 'Hz', span: null },
      },
    ]
  })
}
