import type { MeasureInput } from '../../domain/measure-input.ts'
import type { Analysis } from '../analysis.ts'
import { chanceOf, LIMITS } from './budget.ts'
import { findPhaseJump } from './phase-jump.ts'
import { findRepeatedBlock } from './repeated-block.ts'
import { longestChance, noiseInSteps } from './equal-samples.ts'
import { spanOf, type CollectedFlags } from './collected.ts'
import { volts } from './words.ts'

/** Flags about the record itself: samples at the rails, samples that are missing or stand in for missing ones. */
export function flagRecord(flags: CollectedFlags, input: MeasureInput, analysis: Partial<Analysis>): void {
  const { record } = analysis
  if (!record) return
  if (record.clipped > 0) {
    flags.raise({
      id: 'clipped',
      evidence: `${record.clipped} samples are at the input’s rail of ±${volts(input.trace.rangeV)}, the longest run ${record.clippedRun}.`,
      value: record.clipped,
      limit: 1,
      unit: 'samples',
      span: spanOf({ record }, ...record.clippedSpan),
    })
  }
  if (record.invalid > 0) {
    flags.raise({
      id: 'missing-samples',
      evidence: `${record.invalid} samples are not numbers; the last good value stands in for them.`,
      value: record.invalid,
      limit: 0,
      unit: 'samples',
      span: spanOf({ record }, ...record.invalidSpan),
    })
    return
  }
  if (flagHeld(flags, analysis) || flagRepeated(flags, input, analysis)) return
  if (analysis.plateaus?.ripple) flagPhase(flags, analysis)
}

/** Equal samples in a row where noise would change them: the instrument held its last value. */
function flagHeld(flags: CollectedFlags, analysis: Partial<Analysis>): boolean {
  const { record, rawNoiseV } = analysis
  if (!record || !rawNoiseV || !(record.lsbV > 0)) return false
  const sigma = noiseInSteps(rawNoiseV / record.lsbV, record.equalShare)
  const limit = longestChance(sigma, record.series.n, LOST_CHANCE)
  if (limit === null || record.heldRun <= limit) return false
  // Much of it in other runs of equal samples is a piecewise constant signal, not a loss.
  if (record.heldSamples - record.heldRun >= 0.05 * record.series.n || record.heldRun > 0.5 * record.series.n)
    return false
  // So is a level without any noise that the record begins or ends with.
  if (record.heldAt === 0 || record.heldAt + record.heldRun >= record.series.n) return false
  flags.raise({
    id: 'missing-samples',
    evidence: `${record.heldRun} samples in a row are exactly equal although noise is ${sigma.toFixed(1)} digitizer steps: samples were probably lost.`,
    value: record.heldRun,
    limit,
    unit: 'samples',
    span: spanOf({ record }, record.heldAt, record.heldAt + record.heldRun - 1),
  })
  return true
}

/** Chance of a false alarm of one of the four ways in which samples get lost. */
export const LOST_CHANCE = chanceOf('lost', 4)

/** The same noise twice: a block was delivered twice in place of the one that is missing. */
function flagRepeated(flags: CollectedFlags, input: MeasureInput, analysis: Partial<Analysis>): boolean {
  const { record, rawNoiseV } = analysis
  if (!record || !rawNoiseV || !(record.lsbV > 0)) return false
  const limit = longestChance(
    noiseInSteps(rawNoiseV / record.lsbV, record.equalShare),
    record.series.n ** 2,
    LOST_CHANCE,
  )
  if (limit === null) return false
  const least = Math.max(limit, LIMITS.leastBlock)
  const { offset, series } = record
  const block = findRepeatedBlock(input.trace.samples, offset, offset + series.n, least)
  if (block === null) return false
  flags.raise({
    id: 'missing-samples',
    evidence: `${block.length} samples from sample ${block.at} on repeat those from sample ${block.first} on exactly, noise included: a block was delivered twice.`,
    value: block.length,
    limit: least,
    unit: 'samples',
    span: [block.at, block.at + block.length - 1],
  })
  return true
}

/** The backlight's phase jumps: samples are missing (or doubled) somewhere between. */
function flagPhase(flags: CollectedFlags, analysis: Partial<Analysis>): void {
  const { record, plateaus, raw, rawNoiseV } = analysis
  if (!record || !plateaus?.ripple || !raw) return
  const jump = findPhaseJump(raw, plateaus, rawNoiseV ?? 0, LOST_CHANCE)
  if (jump === null) return
  flags.raise({
    id: 'missing-samples',
    evidence: `The backlight’s phase jumps by ${Math.abs(jump.turns).toFixed(2)} of its period near sample ${Math.round(jump.at) + record.offset}: samples were probably lost.`,
    value: Math.abs(jump.turns),
    limit: jump.limit,
    unit: 'periods',
    span: spanOf({ record }, jump.first, jump.last),
  })
}
