import type { MeasureInput } from '../domain/measure-input.ts'
import { reachBefore } from '../signal/crossings.ts'
import type { Series } from '../signal/series.ts'
import { conditionSeries, type Conditioned } from './condition.ts'
import { findStepOf, roughLevels } from './edge.ts'
import { ladderCurve, ladderVolts } from './ladder-curve.ts'
import { findLevels, type Levels } from './levels.ts'
import { conditionedNoise, NO_NOISE, rawNoise, type NoiseModel } from './noise-model.ts'
import type { CodeScale } from './ordinate.ts'
import { studyPlateaus, type Plateaus, type Ripple } from './plateaus.ts'
import { findStrobe, pulseSequence, type Pulses, type Strobe } from './pulses.ts'
import { createWorkspace, readRecord, type RecordFacts, type Workspace } from './record.ts'
import { findThresholds, type Thresholds } from './thresholds.ts'
import { findResiduals, type Residuals } from './residuals.ts'
import { startClock, type Reader } from './timing.ts'

/** Everything the measures are read from, found once per capture. Positions are samples of the part looked at. */
export interface Analysis {
  readonly input: MeasureInput
  /** Samples per second and seconds per sample. */
  readonly rate: number
  readonly dt: number
  readonly record: RecordFacts
  readonly raw: Series
  readonly plateaus: Plateaus
  /** Sample noise before conditioning, V; null when the plateaus are too short for it. */
  readonly rawNoiseV: number | null
  readonly conditioned: Conditioned
  readonly noise: NoiseModel
  readonly codes: CodeScale
  readonly levels: Levels
  readonly thresholds: Thresholds
  readonly clock: Reader
  readonly residuals: Residuals
  /** Set for a strobed backlight whose trace is not averaged over whole periods: the light is then only seen in pulses. */
  readonly strobe: Strobe | null
  readonly pulses: Pulses | null
  /** Samples per refresh period; null when the refresh rate is not known. */
  readonly frame: number | null
}

/** Shortest record that is measured, samples. */
const SHORTEST = 16

export type AnalysisResult = Analysis | { readonly problem: string; readonly partial: Partial<Analysis> | null }

/** First and last + 1 sample of the record that are looked at, by the reviewer's span. */
function lookedAt(input: MeasureInput): [number, number] {
  const n = input.trace.samples.length
  const span = input.override?.span
  if (!span) return [0, n]
  const rate = input.trace.sampleRateHz
  const first = Math.min(n, Math.max(0, Math.round(Math.min(...span) * rate)))
  const end = Math.min(n, Math.max(first, Math.round(Math.max(...span) * rate) + 1))
  return [first, end]
}

/** A reviewer's window (s) as samples of the part looked at, at least one sample wide. */
function movedWindow(
  window: readonly [number, number] | undefined,
  rate: number,
  offset: number,
  n: number,
): [number, number] | 'outside' | null {
  if (!window) return null
  if (Math.max(...window) * rate < offset || Math.min(...window) * rate > offset + n) return 'outside'
  const first = Math.min(n - 1, Math.max(0, Math.round(Math.min(...window) * rate) - offset))
  return [first, Math.min(n, Math.max(first + 1, Math.round(Math.max(...window) * rate) - offset))]
}

/** Runs the steps every measure needs. The result refers to the workspace and is valid until its next use. */
export function analyse(input: MeasureInput, workspace: Workspace): AnalysisResult {
  const { trace, ladder, recipe, override } = input
  const rate = trace.sampleRateHz
  if (!(rate > 0) || !Number.isFinite(rate)) return { problem: 'The sample rate is not known.', partial: null }
  const [first, end] = lookedAt(input)
  if (end - first < SHORTEST) {
    return { problem: `The record holds ${end - first} samples; ${SHORTEST} are needed.`, partial: null }
  }
  const record = readRecord(trace, first, end, workspace)
  const raw = record.series
  const base = { input, rate, dt: 1 / rate, record, raw }
  if (!(record.maxV - record.minV < Infinity)) return { problem: 'The samples are not finite voltages.', partial: null }
  const frame = input.refreshHz !== null && input.refreshHz > 0 ? rate / input.refreshHz : null
  const split = findStepOf(raw, record.maxV - record.minV, frame)
  if (split === null) return { problem: 'The record does not vary: there is no step in it.', partial: base }
  const rough = roughLevels(raw, split)
  const darkV = ladder?.darkV ?? null
  const plateaus = studyPlateaus(raw, split, rough.after - rough.before, darkV ?? 0, record.lsbV, frame, workspace)
  // A digitizer without visible noise still rounds to its steps.
  const seen = plateaus.noise
  const rawNoiseV = seen === null ? null : Math.max(seen.sigmaV, record.lsbV / Math.sqrt(12))
  const studied = { ...base, plateaus, rawNoiseV }
  const conditioned = conditionSeries(raw, recipe.condition, rate, plateaus, darkV ?? 0, workspace)
  if (conditioned.problem !== null) return { problem: conditioned.problem, partial: studied }
  const { series, noiseGain } = conditioned
  const rounding = record.lsbV ** 2 / 12
  const found = seen === null ? NO_NOISE : seen.sigmaV ** 2 < rounding ? rawNoise(rounding, [], seen.dof) : seen
  const noise = conditionedNoise(found, conditioned.noiseWidth, noiseGain)
  const strobe = findStrobe(raw, plateaus, frame === null ? null : 1 / frame, darkV)
  const rippleLeft = recipe.condition.kind === 'none' || recipe.condition.kind === 'low-pass'
  const ripplePeriod = plateaus.ripple && rippleLeft ? 1 / (strobe?.frequency ?? plateaus.ripple.fundamental) : 0
  const edge = split
  const beforeWindow = movedWindow(override?.beforeWindow, rate, first, raw.n)
  const afterWindow = movedWindow(override?.afterWindow, rate, first, raw.n)
  if (beforeWindow === 'outside' || afterWindow === 'outside')
    return {
      problem: 'A level window that was moved by hand lies outside the analysed span.',
      partial: { ...studied, conditioned },
    }
  const preEnd = preEndOf(series, edge, rough, strobe)
  const levels = findLevels({
    series,
    levels: recipe.levels,
    preEnd,
    edge,
    from: input.from,
    to: input.to,
    ladder,
    noise,
    ripplePeriod,
    beforeWindow,
    afterWindow,
  })
  if ('problem' in levels) return { problem: levels.problem, partial: { ...studied, conditioned } }
  const { ripple } = plateaus
  const averaged = recipe.condition.kind === 'one-period-mean'
  const shift = ripple && averaged ? averagedShift(ripple, darkV ?? 0) : 0
  const clock = startClock(series, levels, noise, edge, shift, conditioned.meanWidth)
  if (!clock) {
    return { problem: 'The signal never crosses the middle of its step.', partial: { ...studied, conditioned, levels } }
  }
  const residuals = findResiduals({
    series,
    noise,
    rawNoise: found,
    plateaus,
    levels,
    mid: clock.mid,
    scale: clock.scale,
    preEnd,
    lsbV: record.lsbV,
    darkV: darkV ?? 0,
    period: ripplePeriod,
    margin: Math.ceil(conditioned.meanWidth / 2),
    rippleRemoved: !rippleLeft,
    divided: recipe.condition.kind === 'divide',
  })
  const codes: CodeScale = ladder ? ladderCurve(ladder) : { problem: 'No ladder was measured.' }
  const doubtV: [number, number] = [
    Math.hypot(levels.uBeforeV, residuals.before.totalV),
    Math.hypot(levels.uAfterV, residuals.after.totalV),
  ]
  return {
    ...studied,
    conditioned,
    noise,
    codes,
    levels,
    thresholds: findThresholds(recipe, levels, codes, toLadder(input, levels), doubtV),
    clock: { ...clock, residuals },
    residuals,
    strobe: averaged ? null : strobe,
    pulses: strobe ? pulseSequence(raw, strobe, edge, found) : null,
    frame,
  }
}

/** Distances from the ladder beyond which another level was shown: share of the light, and of the ladder's span. */
const OFF_LIGHT = 0.03
const OFF_SPAN = 0.002

/** What the levels before and after the step lack to the ladder's, as far as offsets and drift explain it, V. */
function toLadder({ ladder, from, to, recipe }: MeasureInput, levels: Levels): [before: number, after: number] {
  if (!ladder || recipe.levels.kind === 'ladder') return [0, 0]
  const values = ladder.steps.map((step) => step.meanV)
  const span = Math.max(...values) - Math.min(...values)
  const off = (level: number | null, measuredV: number): number => {
    const expectedV = level === null ? null : ladderVolts(ladder, level)
    if (expectedV === null) return 0
    const most = Math.max(OFF_SPAN * span, OFF_LIGHT * Math.abs(expectedV - (ladder.darkV ?? 0)))
    return Math.max(-most, Math.min(most, expectedV - measuredV))
  }
  return [off(from, levels.beforeV), off(to, levels.afterV)]
}

/**
 * Rms shift, samples, of a crossing in a mean over one ripple period by the phase the ripple happens to have there. A
 * ramp (or a sudden step) seen through such a mean passes a level when the light so far reaches it; light that comes
 * unevenly through the period is early or late by ∫(g − 1) dt, g being the waveform over its mean.
 */
function averagedShift(ripple: Ripple, darkV: number): number {
  const { values, mean } = ripple.cycle
  const light = mean - darkV
  if (!(Math.abs(light) > 0)) return 0
  let sum = 0
  let total = 0
  let squares = 0
  for (const y of values) {
    sum += (y - mean) / light / values.length
    total += sum
    squares += sum * sum
  }
  const average = total / values.length
  return Math.sqrt(Math.max(0, squares / values.length - average * average)) / ripple.fundamental
}

/** End of the record that the step has not touched: as far before the 10 % crossing as that lies before the middle. */
function preEndOf(
  series: Series,
  edge: number,
  rough: { before: number; after: number },
  strobe: Strobe | null,
): number {
  if (strobe) return Math.max(0, edge - 1 / strobe.frequency)
  const sign = rough.after >= rough.before ? 1 : -1
  const low = reachBefore(series, 0, edge, rough.before + 0.1 * (rough.after - rough.before), sign) ?? edge
  return Math.max(Math.floor(edge / 2), Math.min(edge, Math.floor(2 * low - edge)))
}

/**
 * The trace as the recipe conditions it, V, one value per sample of the part looked at (a fresh array). Equals the
 * volts of the raw record where the recipe leaves it alone or its conditioning is impossible.
 */
export function conditionedTrace(input: MeasureInput): Float64Array {
  const workspace = createWorkspace()
  const { trace, recipe, ladder, refreshHz } = input
  const [first, end] = lookedAt(input)
  const record = readRecord(trace, first, end, workspace)
  const raw = record.series
  const rangeV = record.maxV - record.minV
  const frame = refreshHz !== null && refreshHz > 0 ? trace.sampleRateHz / refreshHz : null
  const split = raw.n >= SHORTEST && rangeV < Infinity ? findStepOf(raw, rangeV, frame) : null
  if (split === null || recipe.condition.kind === 'none') return raw.v.slice()
  const rough = roughLevels(raw, split)
  const darkV = ladder?.darkV ?? 0
  const plateaus = studyPlateaus(raw, split, rough.after - rough.before, darkV, record.lsbV, frame, workspace)
  return conditionSeries(raw, recipe.condition, trace.sampleRateHz, plateaus, darkV, workspace).series.v.slice()
}

/** Volts of a whole raw trace, a fresh array. */
export function traceVolts(trace: MeasureInput['trace']): Float64Array {
  return readRecord(trace, 0, trace.samples.length, createWorkspace()).series.v.slice()
}
