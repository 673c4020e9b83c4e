import type { Analysis } from '../analysis.ts'
import { ladderVolts } from '../ladder-curve.ts'
import type { CollectedFlags } from './collected.ts'
import { LIMITS } from './budget.ts'
import { volts } from './words.ts'

/** A step too small to be measured well, or one in the wrong direction. */
export function flagStep(flags: CollectedFlags, analysis: Analysis): void {
  const { levels, rawNoiseV, record, input } = analysis
  const step = Math.abs(levels.stepV)
  const overNoise = rawNoiseV && rawNoiseV > 0 ? step / rawNoiseV : Infinity
  const overLsb = record.lsbV > 0 ? step / record.lsbV : Infinity
  if (overNoise < LIMITS.stepOverNoise) {
    flags.raise({
      id: 'small-step',
      evidence: `The step of ${volts(step)} is ${overNoise.toFixed(1)} times the noise; ${LIMITS.stepOverNoise} are needed.`,
      value: overNoise,
      limit: LIMITS.stepOverNoise,
      unit: 'σ',
      span: null,
    })
  } else if (overLsb < LIMITS.stepOverLsb) {
    flags.raise({
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
  if (Math.sign(expected) === levels.sign) return
  flags.raise({
    id: 'wrong-direction',
    evidence: `Level ${from} to ${to} should ${expected > 0 ? 'raise' : 'lower'} the light, but it ${levels.sign > 0 ? 'rose' : 'fell'} by ${volts(step)}.`,
    value: levels.stepV,
    limit: 0,
    unit: 'V',
    span: null,
  })
}
