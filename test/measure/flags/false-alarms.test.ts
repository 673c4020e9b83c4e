/** Detectors on records in which nothing is wrong: how often they speak, and whether their laws are what they say. */
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { analyse, type Analysis } from '#shared/measure/analysis.ts'
import { ALPHA, chanceOf, PHYSICAL, reachOf, SHARES } from '#shared/measure/flags/budget.ts'
import { overBeside } from '#shared/measure/flags/hum.ts'
import { uDrift } from '#shared/measure/flags/plateaus.ts'
import { windowDrift } from '#shared/measure/levels.ts'
import { createWorkspace } from '#shared/measure/record.ts'
import { uOfHalves } from '#shared/measure/tail.ts'
import { studentTCdf } from '#shared/signal/distributions.ts'
import { fTail2 } from '#shared/signal/f-distribution.ts'
import { windowMean } from '#shared/signal/series.ts'
import { distanceFromUniform } from '../../support/uniform.ts'
import { NOISE_KINDS, soundRecord, type NoiseKind } from '../sound.ts'
import { inputOf } from '../waves.ts'
import { alarmsOf } from './false-alarms.ts'

describe('the budget', () => {
  it('is shared out once, whole', () => {
    expect(Object.values(SHARES).reduce((sum, share) => sum + share, 0)).toBeCloseTo(1, 12)
    expect(chanceOf('tail', 3)).toBeCloseTo((0.15 * ALPHA) / 3, 15)
  })

  it('limits are those of scipy.stats.t and norm, degrees of freedom rounded down to two digits', () => {
    expect(reachOf(8.371774e-4)).toBeCloseTo(3.340201, 5)
    expect(reachOf(8.371774e-4, 10)).toBeCloseTo(4.703447, 5)
    expect(reachOf(8.371774e-4, 109)).toBeCloseTo(reachOf(8.371774e-4, 100), 12)
    expect(reachOf(1e-3, 37)).toBeGreaterThan(reachOf(1e-3))
  })

  it('and all constants that are not derived are in the developers’ guide', () => {
    const guide = readFileSync(new URL('../../../DEVELOPERS.md', import.meta.url), 'utf8')
    for (const [name, [value, unit, why]] of Object.entries(PHYSICAL))
      expect(guide, name).toContain(`| \`${name}\` | ${value}${unit === '' ? '' : ` ${unit}`} | ${why} |`)
    for (const [name, share] of Object.entries(SHARES))
      expect(guide, name).toContain(`| \`${name}\` | ${100 * share} % |`)
  })
})

describe('sound records', () => {
  it('are flagged in no more than one of a hundred, whatever the noise', () => {
    const all = NOISE_KINDS.map((kind) => alarmsOf(kind, 1, 150))
    const flagged = all.reduce((sum, { flagged: count }) => sum + count, 0)
    // 450 records: 4.5 expected at most, more than 12 in one run of a thousand (Poisson).
    expect(flagged, all.flatMap(({ evidence }) => evidence).join('\n')).toBeLessThanOrEqual(12)
    // 1 % of a fifth of the budget.
    expect(all.reduce((sum, { ripple }) => sum + ripple, 0)).toBeLessThanOrEqual(5)
  })

  it('give p-values that are uniform, in white noise and in noise with a bandwidth', () => {
    for (const kind of NOISE_KINDS.slice(0, 2))
      for (const [name, p] of Object.entries(chancesOf(kind, 200))) {
        expect(p.length, `${kind}: ${name}`).toBe(200)
        // √n·D over 1.95 in one run of a thousand (Kolmogorov); the seeds are fixed.
        expect(distanceFromUniform(p), `${kind}: ${name}`).toBeLessThan(1.95)
      }
  })
})

/** p-values of the statistics that the detectors compare, one a record. */
function chancesOf(kind: NoiseKind, records: number): Record<string, number[]> {
  const found: Record<string, number[]> = { before: [], after: [], halves: [], hum: [] }
  for (let seed = 1; seed <= records; seed++) {
    const { trace, from, to, refreshHz } = soundRecord(kind, seed)
    const analysis = analyse(inputOf(trace, {}, { from, to, refreshHz }), createWorkspace())
    if ('problem' in analysis) continue
    const { raw, noise } = analysis
    const twoSided = (z: number): number => 2 * studentTCdf(-Math.abs(z), noise.dof)
    found.before?.push(twoSided(driftOf(analysis, analysis.levels.beforeWindow)))
    found.after?.push(twoSided(driftOf(analysis, analysis.levels.afterWindow)))
    const apart = windowMean(raw, 11_000, 15_000) - windowMean(raw, 7000, 11_000)
    found.halves?.push(twoSided(apart / uOfHalves(noise, 4000)))
    const line = overBeside(raw, [7000, 15_000], 50 / 50_000)
    if (line) found.hum?.push(fTail2(line.fit.amplitude ** 2 / line.besideV2, line.count))
  }
  return found
}

function driftOf(analysis: Analysis, window: readonly [number, number]): number {
  return windowDrift(analysis.clock.series, window, 0) / uDrift(analysis, window[1] - window[0], 0)
}
