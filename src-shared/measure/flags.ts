import type { MeasureInput } from '../domain/measure-input.ts'
import { countCrossings } from '../signal/crossings.ts'
import { windowMean } from '../signal/series.ts'
import { amplitudeNear } from '../signal/spectrum.ts'
import type { Analysis } from './analysis.ts'
import { broadening, durationBiasPct, RINGING_LIMIT_PCT } from './broadening.ts'
import { ladderVolts } from './ladder-curve.ts'
import { windowDrift } from './levels.ts'
import type { Shape } from './measure-shape.ts'
import type { Times } from './measure-times.ts'
import { halfWidthFor, noiseReach, sigmaOfMean } from './noise-model.ts'
import { HELD_RUN } from './record.ts'
import type { ResultBuilder } from './result-builder.ts'

/** Limits the flags use. */
export const LIMITS = {
  stepOverNoise: 20,
  stepOverLsb: 100,
  driftPct: 2,
  tailPct: 1,
  ladderPct: 3,
  durationSamples: 3,
  durationOverDetector: 2,
  biasPct: 1,
  humPct: 0.5,
} as const

const ms = (seconds: number): string => `${(seconds * 1e3).toPrecision(3)} ms`
const pct = (value: number): string => `${value < 99.5 ? value.toPrecision(2) : value.toFixed(0)} %`
const volts = (value: number): string =>
  Math.abs(value) < 1 ? `${(value * 1e3).toPrecision(3)} mV` : `${value.toPrecision(4)} V`

/** Raises every doubt that one capture alone can show. Spans count samples of the whole record. */
export function raiseFlags(
  out: ResultBuilder,
  input: MeasureInput,
  analysis: Partial<Analysis> | null,
  found: { times: Times; shape: Shape } | null,
): void {
  if (!analysis?.record) return
  flagRecord(out, input, analysis)
  flagFilter(out, input, analysis, found?.times ?? null)
  if (found === null || !isWhole(analysis)) return
  flagStep(out, analysis)
  flagPlateaus(out, analysis, found.times)
  flagLadder(out, analysis)
  flagTimes(out, analysis, found.times)
  flagExcursions(out, analysis, found.shape)
}

const isWhole = (analysis: Partial<Analysis>): analysis is Analysis =>
  analysis.clock !== undefined && analysis.levels !== undefined && analysis.thresholds !== undefined

function flagRecord(out: ResultBuilder, input: MeasureInput, analysis: Partial<Analysis>): void {
  const { record, rawNoiseV, rate, plateaus, raw } = analysis
  if (!record) return
  const at = (span: readonly [number, number]): [number, number] => [span[0] + record.offset, span[1] + record.offset]
  if (record.clipped > 0) {
    out.flag({
      id: 'clipped',
      evidence: `${record.clipped} samples stand at the input’s rail of ±${volts(input.trace.rangeV)}, the longest run ${record.clippedRun}.`,
      value: record.clipped,
      limit: 1,
      unit: 'samples',
      span: at(record.clippedSpan),
    })
  }
  if (record.invalid > 0) {
    out.flag({
      id: 'missing-samples',
      evidence: `${record.invalid} samples are not numbers; the last good value stands in for them.`,
      value: record.invalid,
      limit: 0,
      unit: 'samples',
      span: at(record.invalidSpan),
    })
  } else if (
    rawNoiseV &&
    record.lsbV > 0 &&
    rawNoiseV > 2 * record.lsbV &&
    record.heldRun >= HELD_RUN &&
    // Much of it in equal samples is a piecewise constant signal, not a loss.
    record.heldSamples < 0.05 * record.series.n
  ) {
    out.flag({
      id: 'missing-samples',
      evidence: `${record.heldRun} samples in a row are exactly equal although noise is ${(rawNoiseV / record.lsbV).toFixed(1)} digitizer steps: samples were probably lost.`,
      value: record.heldRun,
      limit: HELD_RUN,
      unit: 'samples',
      span: at([record.heldAt, record.heldAt + record.heldRun - 1]),
    })
  }
  if (plateaus && raw && rate) flagHum(out, input, analysis as Analysis)
}

const LINES = [50, 60, 100, 120] as const

/**
 * Hum: a component at a mains frequency or its double that is neither the refresh rate, a multiple nor a simple
 * fraction of it, nor the ripple of a backlight (which scales with the light; hum does not).
 */
function flagHum(out: ResultBuilder, input: MeasureInput, analysis: Analysis): void {
  const { plateaus, rate, levels, record, rawNoiseV } = analysis
  const { before, after } = plateaus.spectra
  const step = levels ? Math.abs(levels.stepV) : 0
  const darkV = input.ladder?.darkV ?? 0
  let worst: { hz: number; amplitude: number; window: readonly [number, number] } | null = null
  for (const hz of LINES) {
    const refresh = input.refreshHz
    if (refresh !== null && nearMultiple(hz, refresh)) continue
    const seen = [before, after].flatMap((spectrum) => {
      if (!spectrum || 3 * spectrum.cell * spectrum.binWidth * rate > hz) return []
      const amplitude = amplitudeNear(spectrum, hz / rate)
      const width = 4 * spectrum.cell * spectrum.binWidth
      const beside = Math.max(amplitudeNear(spectrum, hz / rate - width), amplitudeNear(spectrum, hz / rate + width))
      const points = spectrum.end - spectrum.first
      const noise = 4 * (rawNoiseV ?? 0) * Math.sqrt(4 / points)
      return [{ amplitude: amplitude > 3 * beside && amplitude > noise ? amplitude : 0, spectrum }]
    })
    if (seen.length === 0) continue
    const strongest = seen.reduce((a, b) => (b.amplitude > a.amplitude ? b : a))
    if (seen.length === 2 && scalesWithLight(analysis, seen[0]!.amplitude, seen[1]!.amplitude, darkV)) continue
    if (!worst || strongest.amplitude > worst.amplitude) {
      worst = { hz, amplitude: strongest.amplitude, window: [strongest.spectrum.first, strongest.spectrum.end - 1] }
    }
  }
  const value = worst && step > 0 ? (200 * worst.amplitude) / step : 0
  if (!worst || value <= LIMITS.humPct) return
  out.flag({
    id: 'hum',
    evidence: `A ${worst.hz} Hz component of ${volts(2 * worst.amplitude)} peak to peak, ${pct(value)} of the step, lies in the plateaus.`,
    value,
    limit: LIMITS.humPct,
    unit: '%',
    span: [worst.window[0] + record.offset, worst.window[1] + record.offset],
  })
}

function nearMultiple(hz: number, refresh: number): boolean {
  for (const ratio of [hz / refresh, refresh / hz]) {
    const whole = Math.round(ratio)
    if (whole >= 1 && Math.abs(ratio - whole) < 0.01 * whole) return true
  }
  return false
}

/** Whether two amplitudes relate as the light of their plateaus does, and that light differs enough to tell. */
function scalesWithLight(analysis: Analysis, before: number, after: number, darkV: number): boolean {
  const { raw, plateaus } = analysis
  const lightBefore = Math.abs(windowMean(raw, ...plateaus.before) - darkV)
  const lightAfter = Math.abs(windowMean(raw, ...plateaus.after) - darkV)
  const bright = Math.max(lightBefore, lightAfter)
  const dim = Math.min(lightBefore, lightAfter)
  if (!(bright > 1.5 * dim)) return false
  const [strong, weak] = lightBefore > lightAfter ? [before, after] : [after, before]
  // Midway between "the same in both" (hum) and "in proportion to the light" (backlight).
  return weak < strong * Math.sqrt(Math.max(dim / bright, 0.01))
}

function flagFilter(out: ResultBuilder, input: MeasureInput, analysis: Partial<Analysis>, times: Times | null): void {
  const { condition, duration } = input.recipe
  const { rate, dt, conditioned } = analysis
  if (!rate || !dt) return
  const rippleHz = conditioned?.frequency ? conditioned.frequency * rate : null
  const own = broadening(condition, rate, rippleHz)
  if (!own) return
  if (own.ringingPct > RINGING_LIMIT_PCT) {
    out.flag({
      id: 'ringing-filter',
      evidence: `The filter overshoots an ideal step by ${pct(own.ringingPct)}; overshoot is therefore not measured.`,
      value: own.ringingPct,
      limit: RINGING_LIMIT_PCT,
      unit: '%',
      span: null,
    })
  }
  if (!times || times.duration === null || !(own.durationS > 0)) return
  const p = duration.kind === 'percent' ? duration.percent / 100 : 0.1
  const bias = durationBiasPct(own, times.duration * dt, p)
  if (bias <= LIMITS.biasPct) return
  out.flag({
    id: 'conditioning-bias',
    evidence: `Conditioning alone turns a step into ${ms(own.durationS)}; it lengthens this duration of ${ms(times.duration * dt)} by about ${bias >= 100 ? 'all of it' : pct(bias)}.`,
    value: bias,
    limit: LIMITS.biasPct,
    unit: '%',
    span: null,
  })
}

function flagStep(out: ResultBuilder, analysis: Analysis): void {
  const { levels, rawNoiseV, record, input } = analysis
  const step = Math.abs(levels.stepV)
  const overNoise = rawNoiseV && rawNoiseV > 0 ? step / rawNoiseV : Infinity
  const overLsb = record.lsbV > 0 ? step / record.lsbV : Infinity
  if (overNoise < LIMITS.stepOverNoise) {
    out.flag({
      id: 'small-step',
      evidence: `The step of ${volts(step)} is ${overNoise.toFixed(1)} times the noise; ${LIMITS.stepOverNoise} are needed.`,
      value: overNoise,
      limit: LIMITS.stepOverNoise,
      unit: 'σ',
      span: null,
    })
  } else if (overLsb < LIMITS.stepOverLsb) {
    out.flag({
      id: 'small-step',
      evidence: `The step of ${volts(step)} is ${overLsb.toFixed(0)} digitizer steps; ${LIMITS.stepOverLsb} are needed.`,
      value: overLsb,
      limit: LIMITS.stepOverLsb,
      unit: 'LSB',
      span: null,
    })
  }
  const { from, to, ladder } = input
  if (from === null || to === null) return
  const ladderFrom = ladder ? ladderVolts(ladder, from) : null
  const ladderTo = ladder ? ladderVolts(ladder, to) : null
  const expected =
    ladderFrom !== null && ladderTo !== null && ladderFrom !== ladderTo ? ladderTo - ladderFrom : to - from
  if (Math.sign(expected) !== levels.sign) {
    out.flag({
      id: 'wrong-direction',
      evidence: `Level ${from} to ${to} should ${expected > 0 ? 'raise' : 'lower'} the light, but it ${levels.sign > 0 ? 'rose' : 'fell'} by ${volts(step)}.`,
      value: levels.stepV,
      limit: 0,
      unit: 'V',
      span: null,
    })
  }
}

function flagPlateaus(out: ResultBuilder, analysis: Analysis, times: Times): void {
  const { clock, levels, noise, record, strobe, plateaus } = analysis
  const { series } = clock
  const step = Math.abs(levels.stepV)
  const period = strobe ? 1 / strobe.frequency : plateaus.ripple ? 1 / plateaus.ripple.fundamental : 0
  for (const [name, window] of [
    ['before', levels.beforeWindow],
    ['after', levels.afterWindow],
  ] as const) {
    const drift = windowDrift(series, window, period)
    // Standard uncertainty of a slope times its width is √12 σ/√n.
    const u = noise.sigmaV * Math.sqrt((12 * noise.correlation) / (window[1] - window[0]))
    const value = (100 * Math.abs(drift)) / step
    if (value <= LIMITS.driftPct || Math.abs(drift) <= 4 * u) continue
    out.flag({
      id: 'plateau-drift',
      evidence: `The plateau ${name} the step drifts by ${volts(drift)}, ${pct(value)} of the step.`,
      value,
      limit: LIMITS.driftPct,
      unit: '%',
      span: [window[0] + record.offset, window[1] - 1 + record.offset],
    })
  }
  flagTail(out, analysis, times, period)
}

/** Peak-to-peak ripple that conditioning has left in the trace, V. */
function rippleLeft(analysis: Analysis): number {
  const kind = analysis.input.recipe.condition.kind
  return analysis.plateaus.ripple && (kind === 'none' || kind === 'low-pass') ? analysis.plateaus.ripple.peakToPeakV : 0
}

/** Plateau not reached: the tail still creeps towards a level it has not got to, or the end band was entered late. */
function flagTail(out: ResultBuilder, analysis: Analysis, times: Times, period: number): void {
  const { clock, levels, noise, record } = analysis
  const { series } = clock
  const [first, end] = levels.afterWindow
  const span: [number, number] = [first + record.offset, end - 1 + record.offset]
  const step = Math.abs(levels.stepV)
  let third = Math.floor((end - first) / 3)
  if (period > 0 && third > period) third = Math.round(Math.floor(third / period) * period)
  if (third >= 4 && (period === 0 || third >= period - 1)) {
    const c = windowMean(series, end - third, end)
    const b = windowMean(series, end - 2 * third, end - third)
    const a = windowMean(series, end - 3 * third, end - 2 * third)
    const ratio = (c - b) / (b - a)
    const u =
      noise.sigmaV * Math.sqrt(noise.correlation / third) + (rippleLeft(analysis) * Math.min(1, period / third)) / 20
    const significant = Math.abs(c - b) > 4 * u && Math.abs(b - a) > 4 * u
    if (significant && ratio > 0 && ratio < 0.95) {
      // Geometric tail: what is missing from the mean of the window to where it leads.
      const final = c + ((c - b) * ratio) / (1 - ratio)
      const value = (100 * Math.abs(final - levels.afterV)) / step
      if (value > LIMITS.tailPct) {
        out.flag({
          id: 'plateau-not-reached',
          evidence: `The end of the dwell still moves; it leads ${volts(final - levels.afterV)} (${pct(value)} of the step) beyond the level taken.`,
          value,
          limit: LIMITS.tailPct,
          unit: '%',
          span,
        })
        return
      }
    }
  }
  if (times.settling && times.settling.at > first && end >= series.n - 1) {
    out.flag({
      id: 'plateau-not-reached',
      evidence: `The signal settles only inside the window its end level is taken from.`,
      value: (times.settling.at + record.offset) * analysis.dt,
      limit: (first + record.offset) * analysis.dt,
      unit: 's',
      span,
    })
  }
}

function flagLadder(out: ResultBuilder, analysis: Analysis): void {
  const { levels, input, record } = analysis
  const { ladder, from, to, recipe } = input
  if (!ladder || from === null || to === null || recipe.levels.kind === 'ladder') return
  const values = ladder.steps.map((step) => step.meanV)
  const spanV = Math.max(...values) - Math.min(...values)
  const zero = ladder.darkV ?? 0
  let worst: { value: number; text: string; window: readonly [number, number] } | null = null
  for (const [level, measured, u, window] of [
    [from, levels.beforeV, levels.uBeforeV, levels.beforeWindow],
    [to, levels.afterV, levels.uAfterV, levels.afterWindow],
  ] as const) {
    const expected = ladderVolts(ladder, level)
    if (expected === null) continue
    const difference = Math.abs(measured - expected)
    // Near black, 3 % of next to nothing is not a disagreement: 0.2 % of the ladder's span is the least that counts.
    const light = Math.abs(expected - zero)
    if (difference < 0.002 * spanV || difference < 4 * u) continue
    const value = light > 0 ? (100 * difference) / light : 100
    if (value > LIMITS.ladderPct && (!worst || value > worst.value)) {
      worst = {
        value,
        text: `Level ${level} reads ${volts(measured)}, the ladder ${volts(expected)}: ${pct(value)} apart.`,
        window,
      }
    }
  }
  if (!worst) return
  out.flag({
    id: 'ladder-disagrees',
    evidence: worst.text,
    value: worst.value,
    limit: LIMITS.ladderPct,
    unit: '%',
    span: [worst.window[0] + record.offset, worst.window[1] - 1 + record.offset],
  })
}

function flagTimes(out: ResultBuilder, analysis: Analysis, times: Times): void {
  const { clock, levels, noise, dt, record, input, raw, frame, strobe } = analysis
  const edge = Math.round(clock.mid) + record.offset
  if (times.duration !== null && times.low !== null && times.high !== null) {
    const span: [number, number] = [Math.floor(times.low) + record.offset, Math.ceil(times.high) + record.offset]
    if (times.duration < LIMITS.durationSamples) {
      out.flag({
        id: 'under-resolved',
        evidence: `The duration spans ${times.duration.toFixed(1)} samples; ${LIMITS.durationSamples} are the least.`,
        value: times.duration,
        limit: LIMITS.durationSamples,
        unit: 'samples',
        span,
      })
    }
    const detector = input.recipe.detectorS
    if (detector !== null && times.duration * dt < LIMITS.durationOverDetector * detector) {
      out.flag({
        id: 'detector-limited',
        evidence: `The duration of ${ms(times.duration * dt)} is under ${LIMITS.durationOverDetector} times the detector’s own ${ms(detector)}.`,
        value: times.duration * dt,
        limit: LIMITS.durationOverDetector * detector,
        unit: 's',
        span,
      })
    }
  }
  if (input.edgeAtTrigger) {
    // One refresh period either way; 20 ms where the refresh is not known.
    const limit = frame ?? 0.02 / dt
    const distance = edge - input.triggerIndex
    if (Math.abs(distance) > limit) {
      out.flag({
        id: 'edge-out-of-frame',
        evidence: `The step lies ${ms(Math.abs(distance) * dt)} ${distance < 0 ? 'before' : 'after'} the trigger, more than the expected ${ms(limit * dt)}.`,
        value: distance * dt,
        limit: limit * dt,
        unit: 's',
        span: [Math.min(edge, input.triggerIndex), Math.max(edge, input.triggerIndex)],
      })
    }
  }
  if (!strobe) {
    const size = Math.abs(levels.stepV)
    const half = halfWidthFor(noise, raw.n, 0.05 * size, clock.scale / 4)
    const reach = noise.sigmaV > 0 ? noiseReach(noise, raw.n, 2 * half + 1) * sigmaOfMean(noise, 2 * half + 1) : 0
    const band = Math.max(0.02 * size, Math.min(reach, 0.3 * size))
    const middle = levels.beforeV + levels.stepV / 2
    const crossings = countCrossings(clock.series, half, middle - band, middle + band)
    if (crossings.count > 1) {
      out.flag({
        id: 'several-crossings',
        evidence: `The signal crosses the middle of its step ${crossings.count} times.`,
        value: crossings.count,
        limit: 1,
        unit: '1',
        span: [crossings.first + record.offset, crossings.last + record.offset],
      })
    }
  }
}

function flagExcursions(out: ResultBuilder, analysis: Analysis, shape: Shape): void {
  const { excursions, end } = shape
  if (!excursions) return
  const { record, clock, raw } = analysis
  const margin = Math.max(3, 0.01 * (end - clock.mid))
  for (const name of ['overshoot', 'undershoot'] as const) {
    const side = excursions[name]
    if (side.at === null || side.span === null) continue
    if (side.at < end - 1 - margin && side.length !== null) continue
    out.flag({
      id: 'edge-of-record',
      evidence: `The ${name} lies at the end of what is recorded before the end level’s window and may not be over.`,
      value: (end - 1 - side.at) * analysis.dt,
      limit: margin * analysis.dt,
      unit: 's',
      span: [side.span[0] + record.offset, Math.min(raw.n - 1, side.span[1]) + record.offset],
    })
    return
  }
}
