import { describe, expect, it } from 'vitest'
import { UNDECIDED } from '#shared/domain/result.ts'
import { hasScipy } from '../reference/tools.ts'
import { type Kind, type Manifest, type Measured, type Reading, traceOf, withRecords } from './records.ts'
import { outcomeOf, scoreKind, scoreMeasure } from './score.ts'

const MS = 1e-3

function kindOf(manifest: Manifest, group: string, name: string): Kind {
  const kind = manifest.kinds.find((one) => one.group === group && one.name === name)
  if (kind === undefined) throw new Error(`There is no kind ${group}: ${name}.`)
  return kind
}

/** Autocovariance of the samples at the record's end, V², by lag. */
function autocovariance(values: Float64Array, lags: number): number[] {
  const mean = values.reduce((a, b) => a + b, 0) / values.length
  return Array.from({ length: lags + 1 }, (_, lag) => {
    let sum = 0
    for (let i = 0; i + lag < values.length; i++)
      sum += ((values[i] as number) - mean) * ((values[i + lag] as number) - mean)
    return sum / values.length
  })
}

describe.runIf(hasScipy())('the independent corpus', () => {
  it('covers at least 120 kinds, their truths are those of closed forms', () => {
    const manifest = withRecords({ seed: 5, realisations: 0 }, (made) => made)
    expect(manifest.kinds.length).toBeGreaterThanOrEqual(120)
    const near = (group: string, name: string, measure: string, value: number, digits = 5): void => {
      const truth = kindOf(manifest, group, name).truth[measure]
      expect(truth, `${name}: ${measure}`).not.toBeNull()
      expect(Math.abs((truth ?? 0) / value - 1), `${name}: ${measure} ${truth} for ${value}`).toBeLessThan(
        10 ** -digits,
      )
    }
    // First order: 10–90 % is ln 9 τ; from 3 to 97 % is ln(97/3) τ; the error that is left at 3 % is 0.97 τ.
    near('clean', 'first order 2 ms', 'transition_duration_s', Math.log(9) * 2 * MS, 8)
    near('clean', 'first order 2 ms', 'arrival_s', Math.log(97 / 3) * 2 * MS, 8)
    near('clean', 'first order 2 ms', 'integrated_error_s', 0.97 * 2 * MS, 8)
    // One-frame box of 60 Hz over τ = 2 ms: 13.752434 ms (Watson, J. SID 18(2), 2010; solved independently).
    near('clean', 'first order 2 ms', 'blur_edge_s', 13.752434 * MS, 6)
    // Second order, damping 0.5: textbook overshoot and dip exp(−π ζ n/√(1 − ζ²)), 10–90 % 1.637573 by root finding.
    const decay = Math.exp((-Math.PI * 0.5) / Math.sqrt(0.75))
    near('clean', 'damping 0.5', 'overshoot_pct', 100 * decay, 8)
    near('clean', 'damping 0.5', 'undershoot_pct', 100 * decay ** 2, 8)
    near('clean', 'damping 0.5', 'transition_duration_s', 1.637573 * MS, 6)
    near('white noise', 'raised cosine 6 ms, 0.25 %', 'transition_duration_s', 0.590334 * 6 * MS, 6)
    // 85 % at 2 ms and 15 % at 200 ms: 97 % lies 321.888 ms after the command, 0.0717 ms of which lie before onset.
    near('slow tails', '85 % at 2 ms + 15 % at 200 ms in 250 ms', 'transition_duration_s', 80.84319 * MS, 6)
    near('slow tails', '85 % at 2 ms + 15 % at 200 ms in 250 ms', 'arrival_s', (321.88758 - 0.07173) * MS, 6)
    near('overshoot at a corner', 'boosted frame, 20 %', 'overshoot_pct', 20, 8)
    near('smooth overshoot', '5 %', 'overshoot_pct', 5, 6)
    // Sine of depth m: percent flicker 100·m, index m/π.
    near('flicker', 'sine 10 % at 100 Hz, 2 % noise', 'flicker_index', 0.1 / Math.PI, 8)
  })

  it('makes noise of the bandwidth it says', () => {
    const names = 'first order 2 ms, 0.25 % through 3 kHz'
    const rho = withRecords({ seed: 5, realisations: 1, groups: ['noise with a bandwidth'], names }, ({ jobs }) => {
      const [job] = jobs
      if (job === undefined) throw new Error('No record was made.')
      const { samples, scaleV } = traceOf(job)
      const c = autocovariance(
        Float64Array.from(samples.slice(-10_000), (code) => code * scaleV),
        2,
      )
      return c.map((value) => value / (0.0025 * 0.4) ** 2)
    })
    // One pole of 3 kHz at 50 kS/s: ρ₁ = exp(−2π·0.06) = 0.6859; tolerances four standard errors of 10,000 samples.
    expect(Math.abs((rho[0] as number) - 1)).toBeLessThan(0.1)
    expect(Math.abs((rho[1] as number) / (rho[0] as number) - 0.6859)).toBeLessThan(0.03)
    expect(Math.abs((rho[2] as number) / (rho[0] as number) - 0.4705)).toBeLessThan(0.045)
  })
})

const kind: Kind = {
  index: 0,
  group: 'g',
  name: 'n',
  sound: false,
  truth: { settling_s: 0.01, arrival_s: 0.3, in_window: 1 },
  beyond: ['arrival_s'],
  refreshHz: 60,
}
const reading = (value: number | null, u: number | null = null): Reading => ({ value, u, common: null, reason: '' })
const record = (readings: Record<string, Reading>, flags: string[] = []): Measured => ({
  kind: 0,
  realisation: 0,
  cell: 0,
  from: 0,
  to: 255,
  readings,
  flags,
})

describe('scoring', () => {
  it('calls a value right within twice its uncertainty, and one beyond the record also when it is left undefined', () => {
    expect(outcomeOf('settling_s', kind, { settling_s: reading(0.0104, 0.0002) })).toBe('right')
    expect(outcomeOf('settling_s', kind, { settling_s: reading(0.0105, 0.0002) })).toBe('wrong')
    expect(outcomeOf('settling_s', kind, { settling_s: reading(0.0105) })).toBe('wrong')
    expect(outcomeOf('settling_s', kind, { settling_s: reading(null) })).toBe('undefined')
    expect(outcomeOf('arrival_s', kind, { arrival_s: reading(null) })).toBe('right')
  })

  it('takes undecided only where the limit is near', () => {
    const undecided = (u: number) =>
      outcomeOf('in_window', kind, {
        in_window: { ...reading(null), reason: UNDECIDED },
        settling_s: reading(0.012, u),
      })
    expect(undecided(0.002)).toBe('right')
    expect(undecided(0.0005)).toBe('undefined')
    expect(outcomeOf('in_window', kind, { in_window: reading(null), settling_s: reading(0.012, 0.01) })).toBe(
      'undefined',
    )
    expect(outcomeOf('in_window', kind, { in_window: reading(0) })).toBe('wrong')
  })

  it('tells silent from flagged, and a kind by its worst measure', () => {
    const good = record({ settling_s: reading(0.01, 1e-4) })
    const wrong = record({ settling_s: reading(0.02, 1e-4) })
    const warned = record({ settling_s: reading(0.02, 1e-4) }, ['hum'])
    const of = (...records: Measured[]) => scoreMeasure('settling_s', kind, records).verdict
    expect(of(good, good, good, good, wrong)).toBe('right')
    expect(of(good, good, good, wrong, warned)).toBe('silent')
    expect(of(good, good, good, warned, warned)).toBe('flagged')
    const missing = record({ settling_s: reading(null) })
    expect(of(good, missing, missing)).toBe('undefined')
    const one = { ...kind, truth: { settling_s: 0.01, overshoot_pct: 5 } }
    const both = record({ settling_s: reading(0.01, 1e-4), overshoot_pct: reading(9, 1) })
    expect(scoreKind(one, [both]).verdict).toBe('silent')
  })
})
