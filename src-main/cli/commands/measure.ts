import type { Command } from 'commander'
import { AppError } from '#shared/domain/errors.ts'
import type { ImportMapping } from '#shared/domain/import.ts'
import { MEASURE_IDS, MEASURES } from '#shared/domain/measures.ts'
import { DEFAULT_RECIPE } from '#shared/domain/recipe.ts'
import { DETECTOR_NOT_STATED, type Result } from '#shared/domain/result.ts'
import { decodeText, MAX_IMPORT_BYTES } from '#shared/import/decode.ts'
import { pairFromName } from '#shared/import/file-name.ts'
import { guessMapping } from '#shared/import/guess.ts'
import { parseRecording, type ParsedRecording } from '#shared/import/recording.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { measurePeriodicFile } from './measure-periodic.ts'
import { chooseRecipe, type KnownRecipe } from '../choose-recipe.ts'
import { EXIT, type ExitCode } from '../exit-codes.ts'
import { readInputFile } from '../input-file.ts'
import { addTimeOptions, integerOption, numberOption, oneOf, TIME_SCALES, type TimeUnit } from '../options.ts'
import { textTable, type Output } from '../output.ts'
import { shownUnit, snakeCase, valueWithU } from '../quantities.ts'
import { recipeJson } from '../shapes.ts'

export interface MeasureOptions {
  readonly recipe: string
  readonly refresh?: number
  readonly from?: number
  readonly to?: number
  readonly timeColumn?: number
  readonly voltageColumn?: number
  readonly interval?: number
  readonly timeUnit?: TimeUnit
  readonly decimal?: '.' | ','
  readonly periodic?: boolean
  readonly dark?: number
}

export function describeMeasure(command: Command): Command {
  command
    .description('measure one recorded transition in a CSV file; nothing is stored')
    .argument('<file>', 'CSV with a time and a voltage column, as instruments save it')
    .option('--recipe <recipe>', 'name, hash or JSON file', DEFAULT_RECIPE.name)
    .option(
      '--refresh <hz>',
      'refresh rate of the display; window, frame and blur measures need it',
      numberOption(1, 2000),
    )
    .option(
      '--from <code>',
      'level before the change (default: from the file name, else from its direction)',
      integerOption(0, 255),
    )
    .option('--to <code>', 'level after the change', integerOption(0, 255))
    .option('--time-column <n>', 'column of the time, 1 for the first; 0 when there is none', integerOption(0, 201))
    .option('--voltage-column <n>', 'column of the voltage', integerOption(1, 201))
  return addTimeOptions(command)
    .option('--decimal <mark>', 'decimal mark, . or ,', oneOf(['.', ','] as const))
    .option('--periodic', 'read a recording of a steady picture as flicker instead of a transition')
    .option('--dark <v>', 'with --periodic: voltage with the sensor covered', numberOption(-100, 100))
    .addHelpText(
      'after',
      `
Examples:
  slewlight measure 0-255.csv
  slewlight measure scope.csv --from 0 --to 255 --refresh 144 --recipe settling --json
  slewlight measure white.csv --periodic --dark 0.021 --json

With --json the answer is {recipe, input, result, reasons, uncertainties, flags, landmarks, warnings}. The keys of
result are the identifiers of the measures with their unit (transition_duration_s, overshoot_pct, …); null stands
beside a sentence in reasons. Exit code 1 when no transition could be measured. With --periodic it is {input, result,
uncertainties, limits, reasons, cycles, components, regions, notes, warnings} and exit code 1 when nothing periodic stands out.`,
    )
}

export async function runMeasure(file: string, options: MeasureOptions, output: Output): Promise<ExitCode> {
  if (options.periodic === true) {
    const { recording, warnings } = await readRecording(file, options)
    const all = [...warnings, ...recording.warnings]
    return measurePeriodicFile(file, recording, all, options.dark ?? null, output)
  }
  if (options.dark !== undefined)
    throw new AppError('invalid-input', '--dark is given without --periodic.', 'Add --periodic, or omit --dark.')
  const chosen = await chooseRecipe(options.recipe)
  const { recording, warnings } = await readRecording(file, options)
  const levels = levelsOf(file, options, recording)
  const result = measureCapture({
    trace: recording.trace,
    triggerIndex: recording.triggerIndex,
    from: levels.from,
    to: levels.to,
    refreshHz: options.refresh ?? null,
    ladder: null,
    edgeAtTrigger: false,
    recipe: chosen.recipe,
  })
  const unstated = chosen.recipe.detectorS === null ? [DETECTOR_NOT_STATED] : []
  const all = [...warnings, ...recording.warnings, ...unstated]
  const input = {
    file,
    from_code: levels.from,
    to_code: levels.to,
    levels_from: levels.source,
    refresh_hz: options.refresh ?? null,
    samples: recording.trace.samples.length,
    missing_samples: recording.missing,
    sample_rate_hz: recording.trace.sampleRateHz,
    start_s: recording.startS,
    min_v: recording.minV,
    max_v: recording.maxV,
  }
  output.result({ recipe: recipeJson(chosen, result.algorithm), input, ...resultJson(result), warnings: all }, () =>
    measureText(chosen, input, result, all),
  )
  return result.values.transition_duration_s === null ? EXIT.incomplete : EXIT.done
}

/** A result as JSON: `result` has every measure by its identifier. */
export function resultJson(result: Result): Record<string, unknown> {
  return {
    result: Object.fromEntries(MEASURE_IDS.map((id) => [id, result.values[id]])),
    reasons: result.reasons,
    uncertainties: result.uncertainties,
    flags: result.flags.map(({ span, ...flag }) => ({
      ...flag,
      first_sample: span?.[0] ?? null,
      last_sample: span?.[1] ?? null,
    })),
    landmarks: Object.fromEntries(
      Object.entries(result.landmarks).map(([key, value]) => [
        key === 'beforeWindow' || key === 'afterWindow' ? `${snakeCase(key)}_s` : snakeCase(key),
        value,
      ]),
    ),
  }
}

export function resultText(result: Result): string {
  const rows = MEASURE_IDS.map((id) => [
    MEASURES[id].label,
    ...valueWithU(id, result.values[id], result.uncertainties[id]),
    shownUnit(id),
    result.values[id] === null ? (result.reasons[id] ?? '') : '',
  ])
  const flags = result.flags.map(({ id, evidence }) => `  ${id}: ${evidence}`)
  return [
    textTable(['measure', 'value', 'u', 'unit', 'why there is no value'], rows),
    '',
    flags.length === 0 ? 'No flags were raised.' : `Flags:\n${flags.join('\n')}`,
  ].join('\n')
}

function measureText(
  { hash, recipe }: KnownRecipe,
  input: { from_code: number; to_code: number; levels_from: string; samples: number; sample_rate_hz: number },
  result: Result,
  warnings: readonly string[],
): string {
  return [
    `${input.from_code} → ${input.to_code} (${input.levels_from}), ${input.samples} samples at ${input.sample_rate_hz} Hz`,
    `Recipe: ${recipe.name} (${hash}, algorithm ${result.algorithm})`,
    '',
    resultText(result),
    ...warnings.map((warning) => `Note: ${warning}`),
  ].join('\n')
}

async function readRecording(
  file: string,
  options: MeasureOptions,
): Promise<{ recording: ParsedRecording; warnings: readonly string[] }> {
  const text = await readText(file)
  try {
    const guess = guessMapping(text)
    const mapping: ImportMapping = {
      ...guess.mapping,
      ...(options.decimal === undefined ? {} : { decimal: options.decimal }),
      ...(options.timeColumn === undefined
        ? {}
        : { timeColumn: options.timeColumn === 0 ? null : options.timeColumn - 1 }),
      ...(options.voltageColumn === undefined ? {} : { voltageColumn: options.voltageColumn - 1 }),
      ...(options.timeUnit === undefined ? {} : { timeScaleS: TIME_SCALES[options.timeUnit] }),
      ...(options.interval === undefined ? {} : { sampleIntervalS: options.interval, timeColumn: null }),
    }
    return { recording: parseRecording(text, mapping), warnings: guess.warnings }
  } catch (error) {
    if (error instanceof AppError) throw new AppError(error.code, `${file}: ${error.message}`, error.remedy)
    throw error
  }
}

/** Text of a recorded file; rejects with `import-unreadable`. */
export async function readText(file: string): Promise<string> {
  const bytes = await readInputFile(file, MAX_IMPORT_BYTES)
  try {
    return decodeText(bytes)
  } catch (error) {
    if (error instanceof AppError) throw new AppError(error.code, `${file}: ${error.message}`, error.remedy)
    throw error
  }
}

interface Levels {
  readonly from: number
  readonly to: number
  readonly source: 'options' | 'file name' | 'direction'
}

/** The level pair: as given, as the file is named, or 0 and 255 in the direction the signal goes. */
function levelsOf(file: string, { from, to }: MeasureOptions, { trace }: ParsedRecording): Levels {
  if ((from === undefined) !== (to === undefined))
    throw new AppError('invalid-input', 'Only one of --from and --to is given.', 'Give both levels or none.')
  if (from !== undefined && to !== undefined) {
    if (from === to) throw new AppError('invalid-input', `Both levels are ${from}.`, 'Give two different levels.')
    return { from, to, source: 'options' }
  }
  const named = pairFromName(file)
  if (named) return { ...named, source: 'file name' }
  const tenth = Math.max(1, Math.floor(trace.samples.length / 10))
  const sum = (start: number, end: number): number => {
    let total = 0
    for (let i = start; i < end; i++) total += trace.samples[i] as number
    return total
  }
  const rises = sum(trace.samples.length - tenth, trace.samples.length) > sum(0, tenth)
  return { from: rises ? 0 : 255, to: rises ? 255 : 0, source: 'direction' }
}
