import { describe, expect, it } from 'vitest'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { hasNgspice, runSpice } from './tools.ts'
import { inputOf } from './waves.ts'

/** ngspice's own reading of a step against ours on its exported waveform. */
interface Reading {
  readonly duration: number
  readonly overshoot: number
  readonly settling: number
}

function compare(netlist: string, edgeS: number): { readings: Reading; ours: Reading } {
  const { readings, values, rateHz } = runSpice(netlist)
  const made = {
    trace: {
      format: 'real32' as const,
      samples: Float32Array.from(values),
      sampleRateHz: rateHz,
      scaleV: 1,
      offsetV: 0,
      rangeV: 10,
    },
    triggerIndex: Math.round(edgeS * rateHz),
  }
  const band = { kind: 'percent', percent: 2 } as const
  const result = measureCapture(inputOf(made, { startBand: band, endBand: band }, { refreshHz: null }))
  const { landmarks } = result
  const ours = {
    duration: result.values.transition_duration_s ?? Number.NaN,
    overshoot: result.values.overshoot_pct ?? Number.NaN,
    settling: (landmarks.settledAtS ?? Number.NaN) - (landmarks.crossMidS ?? Number.NaN),
  }
  const step = (readings['after'] ?? 0) - (readings['before'] ?? 0)
  const theirs = {
    duration: readings['duration'] ?? Number.NaN,
    overshoot: (100 * ((readings['peak'] ?? 0) - (readings['after'] ?? 0))) / step,
    settling: Math.max(readings['low'] ?? 0, readings['high'] ?? 0) - (readings['t50'] ?? 0),
  }
  for (const key of ['duration', 'overshoot', 'settling'] as const)
    console.log(`${netlist} ${key}: ours ${ours[key].toPrecision(6)}, ngspice ${theirs[key].toPrecision(6)}`)
  return { readings: theirs, ours }
}

describe.runIf(hasNgspice())('circuits simulated by ngspice', () => {
  it.each([
    ['transimpedance.cir', 100e-6],
    ['resonance.cir', 20e-3],
  ] as const)('%s: duration, overshoot and settling agree with ngspice', (netlist, edgeS) => {
    const { readings, ours } = compare(netlist, edgeS)
    expect(ours.duration / readings.duration - 1).toBeCloseTo(0, 3)
    expect(ours.settling / readings.settling - 1).toBeCloseTo(0, 3)
    expect(Math.abs(ours.overshoot - readings.overshoot)).toBeLessThan(0.02)
  })

  it('the resonant circuit rings as its closed form says (damping 0.3: 37.23261 %, 10–90 % 1.321340/ω)', () => {
    const { ours } = compare('resonance.cir', 20e-3)
    expect(ours.overshoot).toBeCloseTo(37.23261, 1)
    expect(ours.duration * 2000).toBeCloseTo(1.32134, 3)
  })
})
