import type { Ladder } from '#shared/domain/capture.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { meanSd } from '#shared/signal/statistics.ts'
import { srgbToLight } from '../support/transfer-functions.ts'
import { createDisplay, showLevel } from '#main/rig/simulated/panel/display.ts'
import { asTrace, firstOrder, inputOf, secondOrder, uniform, type Wave } from '../reference/waves.ts'
import type { CheckRow } from './row.ts'

const MS = 1e-3
const COMPUTED = { source: 'closed form', provenance: 'computed' } as const

/** A ladder of every third code of an sRGB display, 4 V at white. */
export const SRGB_LADDER: Ladder = {
  steps: Array.from({ length: 86 }, (_, i) => 3 * i).map((level) => ({
    level,
    meanV: 4 * srgbToLight(level / 255),
    sdV: 0,
    peakToPeakV: 0,
  })),
  darkV: 0,
  takenAt: '2024-01-01T00:00:00.000Z',
}

function codeStep(wave: Wave, from: number, to: number) {
  const made = asTrace(wave, {
    rateHz: 200_000,
    preS: 0.02,
    postS: 0.1,
    fromV: 4 * srgbToLight(from / 255),
    toV: 4 * srgbToLight(to / 255),
  })
  return measureCapture(inputOf(made, { ordinate: 'code' }, { from, to, ladder: SRGB_LADDER }))
}

/** Relative sd and bias (percent) of the duration of first order at A/σ = 100, over many noisy records. */
function noisyDurations(samplesPerTau: number, runs: number): { sdPct: number; biasPct: number; missing: number } {
  const durations: number[] = []
  let missing = 0
  const random = uniform(99)
  for (let run = 0; run < runs; run++) {
    const made = asTrace(firstOrder(MS), {
      rateHz: samplesPerTau / MS,
      // Long windows, so that the levels are as good as known and the crossings alone spread.
      preS: 0.2,
      postS: 0.6,
      noiseV: 0.04,
      seed: 1000 + run,
      phase: random(),
    })
    const value = measureCapture(inputOf(made)).values.transition_duration_s
    if (value === null) missing++
    else durations.push(value / (2.197225 * MS) - 1)
  }
  const { mean, s } = meanSd(durations)
  return { sdPct: 100 * (s ?? Number.NaN), biasPct: 100 * (mean ?? Number.NaN), missing }
}

/** Largest excess of the duration when 11 samples fall into it, over the phases of sampling. */
function worstPhase(): number {
  let worst = -Infinity
  for (let i = 0; i < 50; i++) {
    const made = asTrace(firstOrder(MS), { rateHz: 5006, preS: 0.05, postS: 0.1, phase: i / 50 })
    const value = measureCapture(inputOf(made)).values.transition_duration_s ?? Number.NaN
    worst = Math.max(worst, 100 * (value / (2.197225 * MS) - 1))
  }
  return worst
}

/** Delay between a request at any moment and the change of drive on the simulated display's first row, frames. */
function requestDelays(): { mean: number; s: number } {
  const random = uniform(5)
  const refreshHz = 60
  const display = createDisplay({
    panel: 'plain',
    backlight: 'steady',
    pwmHz: 240,
    brightness: 0.6,
    refreshHz,
    setting: 'Off',
    row: 0,
    level: 0,
    startS: 0,
    pwmPhase: 0,
  })
  const delays = Array.from({ length: 20_000 }, () => {
    const atS = (1 + 10 * random()) / refreshHz
    const { frameS } = showLevel(display, 255, atS)
    return (frameS - atS) * refreshHz
  })
  const { mean, s } = meanSd(delays)
  return { mean: mean ?? Number.NaN, s: s ?? Number.NaN }
}

export const CODE_ROWS: readonly CheckRow[] = [
  {
    ...COMPUTED,
    id: '62',
    quantity: '10–90 % of the code step, first order, 255 → 0, sRGB',
    unit: 'τ',
    expected: 4.36389,
    tolerance: 0.001,
    kind: 'relative',
    got: () => {
      const value = codeStep(firstOrder(MS), 255, 0).values.transition_duration_s
      return value === null ? null : value / MS
    },
  },
  {
    ...COMPUTED,
    id: '63',
    quantity: 'Peak code of an overshoot of 10 % of the light step, 102 → 51, sRGB',
    unit: 'code',
    expected: 41.97483,
    tolerance: 1e-3,
    kind: 'absolute',
    got: () => {
      // Damping with exp(−πζ/√(1−ζ²)) = 0.1.
      const damping = Math.LN10 / Math.hypot(Math.PI, Math.LN10)
      const value = codeStep(secondOrder(damping, 1000), 102, 51).values.overshoot_code
      return value === null ? null : 51 - value
    },
  },
  ...(
    [
      [5, 3.68],
      [10, 3.33],
    ] as const
  ).map(([perTau, plain]): CheckRow => ({
    id: `64 ${perTau}/τ`,
    quantity: `Spread of the duration, first order, step 100 σ, ${perTau} samples per τ (plain interpolation ${plain} %)`,
    unit: '%',
    expected: plain,
    tolerance: 0.03 * plain,
    kind: 'at most',
    source: 'Monte Carlo of 20,000 plain interpolations',
    provenance: 'computed',
    got: () => noisyDurations(perTau, 4000).sdPct,
  })),
  {
    ...COMPUTED,
    id: '65',
    quantity: 'Worst excess of the duration with 11 samples in it',
    unit: '%',
    expected: 0.704,
    tolerance: 0.0005,
    kind: 'at most',
    got: worstPhase,
  },
  {
    ...COMPUTED,
    id: '66',
    quantity: 'Change of the duration when the end level is read at 5 τ',
    unit: '%',
    expected: -2.645,
    tolerance: 0.05,
    kind: 'absolute',
    got: () => {
      const made = asTrace(firstOrder(MS), { rateHz: 200_000, preS: 0.02, postS: 0.1 })
      const at = 0.02 + 5 * MS
      const override = { afterWindow: [at - 5e-6, at + 5e-6] as [number, number] }
      const value = measureCapture(inputOf(made, {}, { override })).values.transition_duration_s
      return value === null ? null : 100 * (value / (2.197225 * MS) - 1)
    },
  },
  {
    ...COMPUTED,
    id: '67a',
    quantity: 'Mean delay of a request at any moment to the next frame',
    unit: 'frame',
    expected: 0.5,
    tolerance: 0.01,
    kind: 'absolute',
    got: () => requestDelays().mean,
  },
  {
    ...COMPUTED,
    id: '67b',
    quantity: 'Standard deviation of that delay',
    unit: 'frame',
    expected: 0.288675,
    tolerance: 0.006,
    kind: 'absolute',
    got: () => requestDelays().s,
  },
]
