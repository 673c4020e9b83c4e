import { countCrossings, reachNearest } from '../../signal/crossings.ts'
import type { Analysis } from '../analysis.ts'
import { ladderVolts } from '../ladder-curve.ts'
import type { Times } from '../measure-times.ts'
import { halfWidthFor, noiseReach, sigmaOfMean } from '../noise-model.ts'
import { spanOf, type CollectedFlags } from './collected.ts'
import { chanceOf, LIMITS } from './budget.ts'
import { ms } from './words.ts'

/** Flags about the times: too few samples, a slow detector, an edge out of its frame, a middle crossed several times. */
export function flagTimes(flags: CollectedFlags, analysis: Analysis, times: Times): void {
  flagDuration(flags, analysis, times)
  if (analysis.input.edgeAtTrigger) flagEdge(flags, analysis)
  if (!analysis.strobe) flagCrossings(flags, analysis)
}

function flagDuration(flags: CollectedFlags, analysis: Analysis, times: Times): void {
  const { dt, input } = analysis
  if (times.duration === null || times.low === null || times.high === null) return
  const span = spanOf(analysis, Math.floor(times.low), Math.ceil(times.high))
  if (times.duration < LIMITS.samples) {
    flags.raise({
      id: 'under-resolved',
      evidence: `The duration spans ${times.duration.toFixed(1)} samples; ${LIMITS.samples} keep interpolation between them within ${LIMITS.biasPct} % of it.`,
      value: times.duration,
      limit: LIMITS.samples,
      unit: 'samples',
      span,
    })
  }
  const detector = input.recipe.detectorS
  if (detector === null || times.duration * dt >= LIMITS.overDetector * detector) return
  flags.raise({
    id: 'detector-limited',
    evidence: `The duration of ${ms(times.duration * dt)} is under ${LIMITS.overDetector} times the detector’s own ${ms(detector)}.`,
    value: times.duration * dt,
    limit: LIMITS.overDetector * detector,
    unit: 's',
    span,
  })
}

/**
 * Where the light edge is the trigger: the step lies away from it. A level trigger fires halfway between the levels of
 * the ladder, which is not the middle of the step when other levels were shown; the nearer of the two counts.
 */
function flagEdge(flags: CollectedFlags, analysis: Analysis): void {
  const { clock, levels, dt, record, input, frame } = analysis
  const limit = frame === null ? LIMITS.unknownFrame / dt : LIMITS.edgeFrames * frame
  const trigger = input.triggerIndex - record.offset
  const { ladder, from, to } = input
  const low = ladder && from !== null ? ladderVolts(ladder, from) : null
  const high = ladder && to !== null ? ladderVolts(ladder, to) : null
  const fired =
    low === null || high === null ? null : reachNearest(clock.series, 0, trigger, (low + high) / 2, levels.sign)
  const edge =
    fired !== null && Math.abs(fired - trigger) < Math.abs(clock.mid - trigger)
      ? Math.round(fired)
      : Math.round(clock.mid)
  const distance = edge - trigger
  if (Math.abs(distance) <= limit) return
  flags.raise({
    id: 'edge-out-of-frame',
    evidence: `The step lies ${ms(Math.abs(distance) * dt)} ${distance < 0 ? 'before' : 'after'} the trigger, more than the expected ${ms(limit * dt)}.`,
    value: distance * dt,
    limit: limit * dt,
    unit: 's',
    span: spanOf(analysis, Math.min(edge, trigger), Math.max(edge, trigger)),
  })
}

function flagCrossings(flags: CollectedFlags, analysis: Analysis): void {
  const { clock, levels, noise, raw } = analysis
  const size = Math.abs(levels.stepV)
  const half = halfWidthFor(noise, raw.n, 0.05 * size, clock.scale / 4)
  const reach =
    noise.sigmaV > 0
      ? noiseReach(noise, raw.n, 2 * half + 1, 1 - chanceOf('crossings')) * sigmaOfMean(noise, 2 * half + 1)
      : 0
  const band = Math.max(0.02 * size, Math.min(reach, 0.3 * size))
  const middle = levels.beforeV + levels.stepV / 2
  const crossings = countCrossings(clock.series, half, middle - band, middle + band)
  if (crossings.count <= 1) return
  flags.raise({
    id: 'several-crossings',
    evidence: `The signal crosses the middle of its step ${crossings.count} times.`,
    value: crossings.count,
    limit: 1,
    unit: '1',
    span: spanOf(analysis, crossings.first, crossings.last),
  })
}
