/** `measure --periodic`: a recording of a steady picture read as flicker. */
import type { ParsedRecording } from '#shared/import/recording.ts'
import { measurePeriodic, PERIODIC_IDS, PERIODIC_MEASURES, type PeriodicResult } from '#shared/measure/periodic.ts'
import { EXIT, type ExitCode } from '../exit-codes.ts'
import { shortNumber, textTable, type Output } from '../output.ts'

export function measurePeriodicFile(
  file: string,
  recording: ParsedRecording,
  warnings: readonly string[],
  darkV: number | null,
  output: Output,
): ExitCode {
  const result = measurePeriodic(recording.trace, { darkV })
  const { samples, sampleRateHz } = recording.trace
  const input = {
    file,
    dark_v: darkV,
    samples: samples.length,
    missing_samples: recording.missing,
    sample_rate_hz: sampleRateHz,
    start_s: recording.startS,
    min_v: recording.minV,
    max_v: recording.maxV,
  }
  output.result({ input, ...periodicJson(result), warnings }, () =>
    [
      `${samples.length} samples at ${sampleRateHz} Hz, dark level ${darkV === null ? 'not given' : `${darkV} V`}`,
      '',
      periodicText(result),
      ...warnings.map((warning) => `Note: ${warning}`),
    ].join('\n'),
  )
  return result.values.fundamental_hz === null ? EXIT.incomplete : EXIT.done
}

/** A result as JSON: `result` has every reading by its identifier; the spectrum itself is left out. */
function periodicJson(result: PeriodicResult): Record<string, unknown> {
  return {
    result: result.values,
    uncertainties: result.uncertainties,
    limits: result.limits,
    reasons: result.reasons,
    cycles: result.cycles,
    components: result.components.map(({ frequencyHz, relative, u }) =>
      relative > 0
        ? { frequency_hz: frequencyHz, relative, u_relative: u }
        : { frequency_hz: frequencyHz, relative: null, below_relative: u },
    ),
    regions: result.regions.map(({ source, region, lowRiskPct, noEffectPct, note }) => ({
      source,
      region,
      low_risk_pct: lowRiskPct,
      no_effect_pct: noEffectPct,
      note,
    })),
    notes: result.notes,
  }
}

function periodicText(result: PeriodicResult): string {
  const rows = PERIODIC_IDS.map((id) => {
    const value = result.values[id]
    const { label, unit } = PERIODIC_MEASURES[id]
    const [u, limit] = [result.uncertainties[id], result.limits[id]]
    return [
      label,
      value !== null ? shortNumber(value) : limit === undefined ? null : `< ${shortNumber(limit)}`,
      u === undefined ? '' : `± ${shortNumber(u)}`,
      unit === '1' ? '' : unit,
      result.reasons[id] ?? '',
    ]
  })
  return [
    textTable(['reading', 'value', 'u', 'unit', 'why there is no value'], rows),
    '',
    `${result.cycles} whole cycles averaged`,
    ...result.regions.map(({ source, region, lowRiskPct, noEffectPct, note }) => {
      const limits = [
        noEffectPct === null ? null : `no observable effect to ${shortNumber(noEffectPct)} %`,
        lowRiskPct === null ? null : `low risk to ${shortNumber(lowRiskPct)} %`,
      ].filter((limit) => limit !== null)
      return `${source}: ${region}${limits.length === 0 ? '' : ` (${limits.join(', ')})`}. ${note}`
    }),
    ...result.notes.map((note) => `Note: ${note}`),
  ].join('\n')
}
