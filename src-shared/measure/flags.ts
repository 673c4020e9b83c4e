import type { MeasureInput } from '../domain/measure-input.ts'
import type { FlagId } from '../domain/result.ts'
import { seriesOf, type Series } from '../signal/series.ts'
import type { Analysis } from './analysis.ts'
import { LIMITS } from './flags/budget.ts'
import { collectFlags, spanOf, type CollectedFlags } from './flags/collected.ts'
import { flagExcursions } from './flags/excursions.ts'
import { flagFilter } from './flags/filter.ts'
import { flagHum, type Hum } from './flags/hum.ts'
import { flagLadder } from './flags/ladder.ts'
import { flagLeft } from './flags/left.ts'
import { flagPause } from './flags/double-step.ts'
import { flagNotReached } from './flags/not-reached.ts'
import { driftPct, evenDrift, flagEvenDrift, flagWindowDrift } from './flags/plateaus.ts'
import { flagRecord, LOST_CHANCE } from './flags/record.ts'
import { flagStep } from './flags/step.ts'
import { findTimeJump } from './flags/time-jump.ts'
import { flagTimes } from './flags/times.ts'
import { volts } from './flags/words.ts'
import type { Shape } from './measure-shape.ts'
import type { Times } from './measure-times.ts'
import type { ResultBuilder } from './result-builder.ts'

/** Raises every doubt that one capture alone can show. Spans count samples of the whole record. */
export function raiseFlags(
  out: ResultBuilder,
  input: MeasureInput,
  analysis: Partial<Analysis> | null,
  found: { times: Times; shape: Shape } | null,
): void {
  if (!analysis?.record) return
  const flags = collectFlags(out)
  flagRecord(flags, input, analysis)
  flagFilter(flags, input, analysis, found?.times ?? null)
  if (found === null || !isWhole(analysis)) return
  const { times, shape } = found
  flagStep(flags, analysis)
  flagJump(flags, analysis, times)
  const hum = flagHum(flags, input, analysis, times)
  const series = hum === null ? analysis.clock.series : withoutHum(analysis.clock.series, hum)
  // Conditioned through a gap, the trace shows what is not there; a gap, a drift or a second step explains the rest.
  const drift = evenDrift(analysis, times, series)
  if (!flags.has('missing-samples') && !flagEvenDrift(flags, analysis, drift)) {
    // A rail cuts a step in two as well.
    if (!flags.has('clipped')) flagPause(flags, analysis, times, series)
    if (!flags.has('double-step')) {
      flagWindowDrift(flags, analysis, series)
      flagNotReached(flags, analysis, times, series)
    }
  }
  flagLadder(flags, analysis)
  flagTimes(flags, analysis, times)
  flagExcursions(flags, analysis, shape)
  // A trace with a gap, a rail or a second step is not what the recipe leaves.
  if (!EXPLAINS.some((id) => flags.has(id)))
    flagLeft(flags, analysis, out.left(), driftPct(analysis, drift) > LIMITS.leftDriftPct)
}

const EXPLAINS: readonly FlagId[] = ['missing-samples', 'clipped', 'double-step']

const isWhole = (analysis: Partial<Analysis>): analysis is Analysis =>
  analysis.clock !== undefined && analysis.levels !== undefined && analysis.thresholds !== undefined

function withoutHum(series: Series, { frequency, re, im }: Hum): Series {
  const turn = 2 * Math.PI * frequency
  return seriesOf(series.v.map((y, k) => y - re * Math.cos(turn * k) - im * Math.sin(turn * k)))
}

/** Time cut out of the step: in steady light the trace jumps. */
function flagJump(flags: CollectedFlags, analysis: Analysis, times: Times): void {
  const { raw, plateaus, rawNoiseV, levels, clock } = analysis
  // A light that is modulated jumps by itself, and so does a step that fits between a few samples.
  if (plateaus.ripple !== null || clock.scale < 8 || flags.has('missing-samples')) return
  const first = (times.onset?.x ?? clock.mid - clock.scale) - clock.scale
  const end = (times.arrival?.x ?? clock.mid + clock.scale) + clock.scale
  const jump = findTimeJump(raw, first, end, rawNoiseV ?? 0, levels.stepV, LOST_CHANCE)
  if (jump === null) return
  flags.raise({
    id: 'missing-samples',
    evidence: `The trace jumps by ${volts(jump.jumpV)} from one sample to the next in the middle of a slower change: samples were probably lost.`,
    value: Math.abs(jump.jumpV),
    limit: jump.limitV,
    unit: 'V',
    span: spanOf(analysis, jump.at, jump.at + 1),
  })
}
