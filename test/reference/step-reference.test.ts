import { describe, expect, it } from 'vitest'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import type { MeasureId } from '#shared/domain/measures.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { PANEL_IDS, SIM_SETTINGS } from '#shared/domain/rig.ts'
import { truthOf } from '../simulated/truth.ts'
import { hasScipy, runReference, type StepJob, voltsOf } from './tools.ts'
import {
  asTrace,
  firstOrder,
  gaussian,
  gaussianEdge,
  inputOf,
  logistic,
  type MadeTrace,
  overdrive,
  raisedCosine,
  ramp,
  secondOrder,
  type TraceShape,
  twoEqualPoles,
  type Wave,
} from './waves.ts'

const MS = 1e-3
const WAVES: [string, Wave][] = [
  ['first order', firstOrder(2 * MS)],
  ['ramp', ramp(8 * MS)],
  ['raised cosine', raisedCosine(6 * MS)],
  ['Gaussian', gaussianEdge(1.5 * MS)],
  ['logistic', logistic(MS)],
  ['damping 0.5', secondOrder(0.5, 1000)],
  ['damping 0.8', secondOrder(0.8, 800)],
  ['overdrive', overdrive(0.25, MS, 5 * MS)],
  ['two poles', twoEqualPoles(1.5 * MS)],
]
const SHAPES: [string, Partial<TraceShape>][] = [
  ['rising', {}],
  ['falling, off-grid', { fromV: 4.2, toV: 0.3, phase: 0.37 }],
  ['16 bits, noise 1 mV', { noiseV: 0.001, int16: true, seed: 3 }],
  ['small falling step, noise 1 mV', { fromV: 1.4, toV: 0.2, noiseV: 0.001, int16: true, seed: 4 }],
]

interface Case {
  readonly name: string
  readonly input: MeasureInput
  /** Sample noise over the step. */
  readonly noise: number
}

const closedForms: Case[] = WAVES.flatMap(([wave, form]) =>
  SHAPES.map(([shape, change]) => {
    const made = asTrace(form, { rateHz: 100_000, preS: 0.05, postS: 0.15, ...change })
    const size = Math.abs((change.toV ?? 4.5) - (change.fromV ?? 0.5))
    return {
      name: `${wave}, ${shape}`,
      input: inputOf(made, {}, { refreshHz: 120 }),
      noise: (change.noiseV ?? 0) / size,
    }
  }),
)

/** Simulated panels through a 50 kHz detector. */
const panels: Case[] = PANEL_IDS.flatMap((panel) =>
  SIM_SETTINGS.flatMap((setting) =>
    (
      [
        [0, 255],
        [192, 64],
        [51, 102],
      ] as const
    ).map(([from, to], i) => {
      const rateHz = 50_000
      const refreshHz = [60, 120, 240][i] as number
      const noiseV = 0.0005
      const light = truthOf({ panel, setting, refreshHz, from, to }).waveform(-0.1, 1 / rateHz, 0.5 * rateHz, 50_000)
      const next = gaussian(11 + i)
      const samples = Float32Array.from(light, (value) => 4 * value + 0.02 + noiseV * next())
      const made: MadeTrace = {
        trace: { format: 'real32', samples, sampleRateHz: rateHz, scaleV: 1, offsetV: 0, rangeV: 10 },
        triggerIndex: 0.1 * rateHz,
      }
      const size = 4 * Math.abs((light.at(-1) ?? 0) - (light[0] ?? 0))
      const input = inputOf(made, {}, { refreshHz, from, to })
      return { name: `${panel} ${setting} ${from}→${to} ${refreshHz} Hz`, input, noise: noiseV / size }
    }),
  ),
)

/**
 * Measure, its name in the reference, and how far apart the two may be: a share of the value, an absolute part, and what
 * noise does to the plain reference, per noise-to-step ratio: its first crossings on a shallow slope come early, its
 * extremes are those of single samples, and its ∫|error| adds up the noise of the whole record.
 */
const QUANTITIES: readonly {
  readonly id: MeasureId
  readonly key: string
  readonly share: number
  readonly absolute: number
  readonly noise: { readonly ofValue?: number; readonly ofRecord?: number; readonly points?: number }
}[] = [
  { id: 'transition_duration_s', key: 'duration', share: 2e-4, absolute: 2e-6, noise: { ofValue: 15 } },
  { id: 'arrival_s', key: 'arrival', share: 2e-4, absolute: 2e-6, noise: { ofValue: 40 } },
  { id: 'settling_s', key: 'settling', share: 2e-4, absolute: 2e-6, noise: { ofValue: 60 } },
  { id: 'overshoot_pct', key: 'overshoot', share: 1e-3, absolute: 0.003, noise: { points: 500 } },
  { id: 'integrated_error_s', key: 'integratedError', share: 1e-3, absolute: 2e-6, noise: { ofRecord: 0.85 } },
  { id: 'first_frame_completion_pct', key: 'firstFrame', share: 1e-3, absolute: 0.01, noise: { points: 500 } },
  { id: 'blur_edge_s', key: 'blurEdge', share: 5e-4, absolute: 2e-6, noise: { ofValue: 1 } },
  { id: 'gaussian_edge_s', key: 'gaussianEdge', share: 2e-3, absolute: 5e-6, noise: { ofValue: 1 } },
]

function jobOf({ input }: Case): StepJob {
  return {
    kind: 'step',
    rate: input.trace.sampleRateHz,
    beforeShare: 0.6,
    afterShare: 0.2,
    percent: 10,
    band: 3,
    refresh: input.refreshHz,
    gaussian: true,
  }
}

function compare(cases: readonly Case[]): void {
  const reference = runReference(cases.map((one) => ({ job: jobOf(one), values: voltsOf(one.input.trace) })))
  const worst = new Map<string, { excess: number; line: string }>()
  const failures: string[] = []
  let compared = 0
  cases.forEach((one, i) => {
    const { values, reasons, uncertainties } = measureCapture(one.input)
    for (const { id, key, share, absolute, noise } of QUANTITIES) {
      const theirs = reference[i]?.[key]
      const ours = values[id]
      if (typeof theirs !== 'number') continue
      if (ours === null) {
        failures.push(`${one.name}: ${id} is undefined (${reasons[id] ?? 'no reason'}), reference ${theirs}`)
        continue
      }
      compared++
      const { sampleRateHz, samples } = one.input.trace
      const { ofValue = 0, ofRecord = 0, points = 0 } = noise
      const byNoise = one.noise * (ofValue * Math.abs(theirs) + (ofRecord * samples.length) / sampleRateHz + points)
      const allowed = absolute + share * Math.abs(theirs) + byNoise + 2 * (uncertainties[id] ?? 0)
      const excess = Math.abs(ours - theirs) / allowed
      const line = `${id}: ours ${ours.toPrecision(6)}, scipy ${theirs.toPrecision(6)} (${one.name})`
      if (excess > (worst.get(id)?.excess ?? -1)) worst.set(id, { excess, line })
      if (excess > 1) failures.push(`${line}, allowed ${allowed.toPrecision(3)}`)
    }
  })
  console.log(`${compared} values compared; furthest apart, as a share of what is allowed:`)
  for (const { excess, line } of worst.values()) console.log(`  ${excess.toFixed(2)}  ${line}`)
  expect(failures).toEqual([])
  expect(compared).toBeGreaterThan(7 * cases.length)
}

describe.runIf(hasScipy())('steps against numpy and scipy', () => {
  it('agrees on closed forms, rising and falling, clean and noisy', () => {
    compare(closedForms)
  })

  it('agrees on simulated panels', () => {
    compare(panels)
  })
})
