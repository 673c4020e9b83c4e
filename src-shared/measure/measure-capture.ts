import type { MeasureInput } from '../domain/measure-input.ts'
import type { MeasureId } from '../domain/measures.ts'
import { recipeHash, type Recipe } from '../domain/recipe.ts'
import { ALGORITHM, type Landmarks, type Result, type UncertaintyTerm } from '../domain/result.ts'
import { analyse, type Analysis } from './analysis.ts'
import { measureBlur } from './measure-blur.ts'
import { measureShape } from './measure-shape.ts'
import { handDuration, measureTimes } from './measure-times.ts'
import { raiseFlags } from './flags.ts'
import { createWorkspace } from './record.ts'
import { resultBuilder, type ResultBuilder } from './result-builder.ts'

const shared = createWorkspace()
const hashes = new WeakMap<Recipe, string>()

/** Hash of a recipe, kept per recipe object: hashing takes longer than measuring a short record. */
function hashOf(recipe: Recipe): string {
  let hash = hashes.get(recipe)
  if (hash === undefined) {
    hash = recipeHash(recipe)
    hashes.set(recipe, hash)
  }
  return hash
}

/**
 * Measures one capture: condition → levels → crossings → every measure with its uncertainty → flags.
 * Pure: the same input gives the same result. A measure is null, with its reason in plain words, where the record
 * does not define it; NaN and infinities never appear. Times are in s, landmarks count from the record's first sample.
 */
export function measureCapture(input: MeasureInput): Result {
  return measureInto(input, resultBuilder())
}

/** What makes up the uncertainty of each measure of one capture, largest first. */
export type Causes = Partial<Record<MeasureId, readonly UncertaintyTerm[]>>

/** The causes of a capture's uncertainties: it is measured once more. */
export function uncertaintyTerms(input: MeasureInput): Causes {
  const out = resultBuilder(true)
  measureInto(input, out)
  return out.terms ?? {}
}

function measureInto(input: MeasureInput, out: ResultBuilder): Result {
  const analysis = analyse(input, shared)
  let landmarks: Landmarks = EMPTY_LANDMARKS
  if ('problem' in analysis) {
    for (const id of STEP_MEASURES) out.lack(id, analysis.problem)
    reportSignal(out, analysis.partial, analysis.problem)
    const [crossLowS, crossHighS] = handDuration(out, input) ?? [null, null]
    landmarks = { ...EMPTY_LANDMARKS, crossLowS, crossHighS }
    raiseFlags(out, input, analysis.partial, null)
  } else {
    reportSignal(out, analysis, null)
    const times = measureTimes(out, analysis)
    const shape = measureShape(out, analysis, times)
    measureBlur(out, analysis)
    raiseFlags(out, input, analysis, { times, shape })
    const { overshootAtS, overshootV, undershootAtS, undershootV } = shape.landmarks
    landmarks = { ...times.landmarks, overshootAtS, overshootV, undershootAtS, undershootV }
  }
  const { values, reasons, uncertainties, common, flags } = out.finish()
  const recipe = hashOf(input.recipe)
  return { recipeHash: recipe, algorithm: ALGORITHM, values, reasons, uncertainties, common, flags, landmarks }
}

/** What does not need a step: noise, ripple and, where there is one, the step's size. */
function reportSignal(out: ResultBuilder, analysis: Partial<Analysis> | null, problem: string | null): void {
  const noise = analysis?.rawNoiseV ?? null
  const rate = analysis?.rate ?? 1
  if (noise === null) out.lack('noise_v', problem ?? 'The plateaus are too short to tell noise from the signal.')
  else out.set('noise_v', noise, noise / Math.sqrt(2 * Math.max(8, (analysis?.raw?.n ?? 16) / 4)))
  const levels = analysis?.levels ?? null
  if (levels) {
    out.set('step_v', levels.stepV, Math.hypot(levels.uBeforeV, levels.uAfterV))
    if (noise !== null && noise > 0) out.set('snr', Math.abs(levels.stepV) / noise)
    else if (noise === null) out.lack('snr', 'The noise is not known.')
    else out.lack('snr', 'No noise is visible in the plateaus.')
  } else {
    out.lack('step_v', problem ?? 'No step was found.')
    out.lack('snr', problem ?? 'No step was found.')
  }
  const ripple = analysis?.plateaus?.ripple ?? null
  if (ripple) {
    const cell = 1 / Math.max(1, ripple.window[1] - ripple.window[0])
    out.set('ripple_frequency_hz', ripple.frequency * rate, 0.02 * cell * rate)
    out.set('ripple_depth_pct', ripple.depthPct, ripple.uDepthPct)
  } else {
    const reason = analysis?.plateaus
      ? 'No periodic component stands out from the plateaus.'
      : (problem ?? 'No plateau.')
    out.lack('ripple_frequency_hz', reason)
    out.lack('ripple_depth_pct', reason)
  }
}

const STEP_MEASURES: readonly MeasureId[] = [
  'transition_duration_s',
  'transition_duration_corrected_s',
  'arrival_s',
  'settling_s',
  'overshoot_pct',
  'overshoot_code',
  'overshoot_instant_s',
  'overshoot_length_s',
  'undershoot_pct',
  'undershoot_code',
  'undershoot_instant_s',
  'undershoot_length_s',
  'integrated_error_s',
  'first_frame_completion_pct',
  'in_window',
  'blur_edge_s',
  'extended_blur_edge_s',
  'gaussian_edge_s',
  'first_pulse_crosstalk_pct',
]

const EMPTY_LANDMARKS: Landmarks = {
  beforeWindow: null,
  afterWindow: null,
  beforeV: null,
  afterV: null,
  onsetS: null,
  crossLowS: null,
  crossMidS: null,
  crossHighS: null,
  arrivalAtS: null,
  settledAtS: null,
  overshootAtS: null,
  overshootV: null,
  undershootAtS: null,
  undershootV: null,
  startBandV: null,
  endBandV: null,
  referenceLowV: null,
  referenceHighV: null,
}
