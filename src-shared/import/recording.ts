import type { RawTrace } from '#shared/domain/capture.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { ImportMapping } from '#shared/domain/import.ts'
import { flatRail } from './flat-rail.ts'
import { cellsOfLine, isOverloadWord, numberOf, resolutionOf, walkLines } from './table.ts'
import { roundedWithin, timeAxisOf } from './time-axis.ts'
import { plural } from '#shared/domain/quantity-text.ts'

/** Most samples of one recording. */
const MAX_SAMPLES = 20_000_000
/** Fewer samples are no recording of a transition. */
const MIN_SAMPLES = 16
/** Magnitudes from here on are the SCPI codes for infinity and not-a-number (SCPI-1999 7.2.1.4, 7.2.1.5). */
const SCPI_SPECIAL = 9e36

/** One recording as read from a file. */
export interface ParsedRecording {
  /** Volts as 32-bit floats: each within 6 · 10⁻⁸ of the written number. Gaps hold the last value before them. */
  readonly trace: RawTrace
  /** Sample at time 0 of the file where the record spans it, else 0. */
  readonly triggerIndex: number
  readonly startS: number
  readonly minV: number
  readonly maxV: number
  /** Samples the time column says are missing; the verdict of the capture is then `gapped`. */
  readonly missing: number
  readonly warnings: readonly string[]
}

/** A list of numbers that grows without boxing. */
class NumberList {
  #values = new Float64Array(4096)
  length = 0
  push(value: number): void {
    if (this.length === this.#values.length) {
      const larger = new Float64Array(this.#values.length * 2)
      larger.set(this.#values)
      this.#values = larger
    }
    this.#values[this.length] = value
    this.length += 1
  }
  at(index: number): number {
    return this.#values[index] as number
  }
  done(): Float64Array {
    return this.#values.subarray(0, this.length)
  }
}

function unreadable(message: string, remedy: string): AppError {
  return new AppError('import-unreadable', message, remedy)
}

interface Reader {
  readonly times: NumberList
  readonly volts: NumberList
  readonly lines: NumberList
  resolution: number
  /** First row of a stretch that is no sample; an error if samples follow, a footer if none does. */
  footer: { line: number; why: string; blank: boolean; count: number } | null
}

type ReadMapping = ImportMapping & { readonly timeScaleS: number }

/** One row of the table into the reader. */
function readRow(reader: Reader, cells: readonly string[], line: number, mapping: ReadMapping): void {
  const { timeColumn, voltageColumn, decimal } = mapping
  const timeCell = timeColumn === null ? '' : (cells[timeColumn] ?? '')
  const voltageCell = cells[voltageColumn] ?? ''
  const time = timeColumn === null ? 0 : numberOf(timeCell, decimal)
  const volts = numberOf(voltageCell, decimal)
  if (Number.isNaN(time) || (timeColumn === null && Number.isNaN(volts) && !isOverloadWord(voltageCell))) {
    const cell = Number.isNaN(time) ? timeCell : voltageCell
    reader.footer ??= {
      line,
      why: cell === '' ? 'is empty' : `reads “${shortened(cell)}”, which is not a number`,
      blank: cells.every((c) => c === ''),
      count: 0,
    }
    reader.footer.count += 1
    return
  }
  if (reader.footer)
    throw unreadable(
      `Line ${reader.footer.line}: the ${timeColumn === null ? 'voltage' : 'time'} ${reader.footer.why}, and samples follow after it.`,
      'Correct or remove this line, or choose other columns or another decimal sign.',
    )
  if (Number.isNaN(volts) || Math.abs(volts) >= SCPI_SPECIAL) throw voltageError(cells, voltageCell, line, mapping)
  if (!Number.isFinite(volts * mapping.voltageScaleV) || !Number.isFinite(Math.fround(volts * mapping.voltageScaleV)))
    throw unreadable(`Line ${line}: the voltage ${shortened(voltageCell)} is too large.`, 'Check column and unit.')
  if (!Number.isFinite(time * mapping.timeScaleS))
    throw unreadable(`Line ${line}: the time ${shortened(timeCell)} is too large.`, 'Check column and unit.')
  const count = reader.volts.length
  if (count >= MAX_SAMPLES)
    throw unreadable(
      `Line ${line}: the recording has more than ${MAX_SAMPLES / 1e6} million samples.`,
      'Save a shorter span or fewer samples per second.',
    )
  // The finest written digit shows in a few rows; looking at all of them would double the time.
  if (timeColumn !== null && (count < 64 || count % 997 === 0))
    reader.resolution = Math.min(reader.resolution, resolutionOf(timeCell, decimal) * mapping.timeScaleS)
  reader.times.push(time * mapping.timeScaleS)
  reader.volts.push(volts * mapping.voltageScaleV)
  reader.lines.push(line)
}

function voltageError(
  cells: readonly string[],
  cell: string,
  line: number,
  { voltageColumn }: ImportMapping,
): AppError {
  const column = `column ${voltageColumn + 1}`
  if (cells.length <= voltageColumn)
    return unreadable(
      `Line ${line} has ${plural(cells.length, 'column')}; the voltage is expected in ${column}.`,
      'Choose another column, or save the file again if it was cut off.',
    )
  if (cell === '')
    return unreadable(`Line ${line}: the voltage in ${column} is empty.`, 'Save the recording without empty samples.')
  if (isOverloadWord(cell) || !Number.isNaN(numberOf(cell, '.')))
    return unreadable(
      `Line ${line}: the voltage in ${column} reads “${shortened(cell)}”; the instrument had no valid sample there.`,
      'Record again with a larger input range so that the trace does not overload.',
    )
  return unreadable(
    `Line ${line}: the voltage in ${column} reads “${shortened(cell)}”, which is not a number.`,
    'Choose another column, delimiter or decimal sign.',
  )
}

const shortened = (text: string): string => (text.length > 40 ? `${text.slice(0, 40)}…` : text)

/** Lines read between two pauses of `parseRecordingGently`; about 20 ms. */
const LINES_AT_A_TIME = 20_000

/**
 * Reads a whole recording by a mapping. Throws `import-unreadable` naming the line where something is wrong and what
 * to do; whatever it returns is what the file says.
 */
export function parseRecording(text: string, mapping: ImportMapping): ParsedRecording {
  const work = reading(text, mapping)
  for (;;) {
    const step = work.next()
    if (step.done === true) return step.value
  }
}

/** The same, with a pause every 20 000 lines, so that a long file does not hold up whatever else the thread does. */
export async function parseRecordingGently(
  text: string,
  mapping: ImportMapping,
  pause: () => Promise<void>,
): Promise<ParsedRecording> {
  const work = reading(text, mapping)
  for (;;) {
    const step = work.next()
    if (step.done === true) return step.value
    await pause()
  }
}

function* reading(text: string, given: ImportMapping): Generator<void, ParsedRecording> {
  const { timeScaleS } = given
  if (given.timeColumn !== null && timeScaleS === null)
    throw unreadable(
      'The time column names no unit, and as seconds it makes no sense.',
      'Say what its unit is: s, ms, µs or ns (on the command line --time-unit).',
    )
  const mapping: ReadMapping = { ...given, timeScaleS: timeScaleS ?? 1 }
  const reader: Reader = {
    times: new NumberList(),
    volts: new NumberList(),
    lines: new NumberList(),
    resolution: Infinity,
    footer: null,
  }
  const walker = walkLines(text)
  for (let line = walker.next(); line !== null; line = walker.next()) {
    if (walker.line % LINES_AT_A_TIME === 0) yield
    if (walker.line <= mapping.headerLines || line === '' || line.trim() === '') continue
    readRow(reader, cellsOfLine(line, mapping.delimiter), walker.line, mapping)
  }
  const count = reader.volts.length
  const { footer } = reader
  if (count === 0 && footer)
    throw unreadable(
      `Line ${footer.line}: the ${mapping.timeColumn === null ? 'voltage' : 'time'} ${footer.why}; no line after it holds a sample.`,
      'Choose other columns, another delimiter or decimal sign.',
    )
  if (count < MIN_SAMPLES)
    throw unreadable(
      `The file has ${plural(count, 'sample')}; at least ${MIN_SAMPLES} are needed.`,
      'Choose a file with the whole recorded transition.',
    )
  const warnings: string[] = []
  if (footer && !footer.blank)
    warnings.push(
      `${plural(footer.count, 'line')} after the last sample (from line ${footer.line}) hold no sample and were left out.`,
    )
  return finish(reader, mapping, warnings)
}

function finish(reader: Reader, mapping: ReadMapping, warnings: string[]): ParsedRecording {
  const volts = reader.volts.done()
  const axis =
    mapping.timeColumn === null ? null : timeAxisOf(reader.times.done(), reader.resolution, (i) => reader.lines.at(i))
  if (axis === null && mapping.sampleIntervalS === null)
    throw unreadable(
      'The file has no time column, and the sample interval is not given.',
      'Give the sample interval (or rate) at which it was recorded.',
    )
  const sampleRateHz = axis?.sampleRateHz ?? roundedWithin(1 / (mapping.sampleIntervalS as number), 1e-12)
  const startS = axis?.startS ?? 0
  if (!(sampleRateHz >= LEAST_RATE_HZ && sampleRateHz <= GREATEST_RATE_HZ))
    throw unreadable(
      `The samples would be ${(1 / sampleRateHz).toPrecision(3)} s apart, which no recording of a display is.`,
      'Check which column holds the time, and its unit.',
    )
  if (!(Math.abs(startS) <= GREATEST_TIME_S))
    throw unreadable(
      `The time column begins at ${startS.toPrecision(3)} s.`,
      'Check which column holds the time, and its unit.',
    )
  const places = axis?.places ?? null
  const resample = axis?.resample ?? null
  const total = resample?.length ?? (places ? (places[places.length - 1] as number) + 1 : volts.length)
  if (total > MAX_SAMPLES)
    throw unreadable(
      `With its gaps the recording spans ${total} samples; at most ${MAX_SAMPLES} are read.`,
      'Save a shorter span.',
    )
  const samples = new Float32Array(total)
  let minV = Infinity
  let maxV = -Infinity
  let place = 0
  resample?.forEach((at, k) => {
    const low = Math.floor(at)
    const value = volts[low] as number
    samples[k] = value + (at - low) * ((volts[Math.min(low + 1, volts.length - 1)] as number) - value)
  })
  volts.forEach((value, i) => {
    if (value < minV) minV = value
    if (value > maxV) maxV = value
    if (resample !== null) return
    const until = places ? (places[i] as number) : i
    const held = place > 0 ? (samples[place - 1] as number) : value
    while (place < until) {
      samples[place] = held
      place += 1
    }
    samples[until] = value
    place = until + 1
  })
  const largestV = Math.max(Math.abs(minV), Math.abs(maxV))
  const rail = flatRail(volts, minV, maxV)
  if (rail !== null)
    warnings.push(
      `${rail.samples} samples in a row are exactly ${rail.volts} V, the ${rail.volts === maxV ? 'highest' : 'lowest'} of the file, and noise shows elsewhere: the input was at its limit there.`,
    )
  if (axis) warnings.push(...axis.warnings)
  if (axis?.firstGap !== undefined && axis.firstGap !== null)
    warnings.push(
      `${plural(axis.missing, 'sample is', 'samples are')} missing (first before line ${reader.lines.at(axis.firstGap)}): the capture is kept as gapped and does not enter the matrix.`,
    )
  if (minV === maxV) warnings.push(`Every sample is ${minV} V: there is no transition in this column.`)
  return {
    trace: {
      format: 'real32',
      samples,
      sampleRateHz,
      scaleV: 1,
      offsetV: 0,
      // A rail that is the largest voltage is the input's range, so that measuring sees what is cut off at it.
      rangeV: rail !== null && Math.abs(rail.volts) === largestV ? Math.fround(largestV) : rangeAbove(largestV),
    },
    triggerIndex: triggerIndexOf(startS, sampleRateHz, total),
    startS,
    minV,
    maxV,
    missing: axis?.missing ?? 0,
    warnings,
  }
}

/** Anything outside is no time axis of a recorded transition. */
const LEAST_RATE_HZ = 1
const GREATEST_RATE_HZ = 1e12
/** Clock times in seconds of any era stay far below. */
const GREATEST_TIME_S = 1e12

/** Instruments put their trigger at time 0; a record that does not span it starts there. */
function triggerIndexOf(startS: number, sampleRateHz: number, total: number): number {
  const index = Math.round(-startS * sampleRateHz)
  return index > 0 && index < total ? index : 0
}

/**
 * A file does not say the input range: where nothing in it is flat, the next step of 1–2–5 well above the largest
 * voltage is taken, and no sample lies near it.
 */
function rangeAbove(largestV: number): number {
  if (largestV === 0) return 1
  const decade = 10 ** Math.floor(Math.log10(1.2 * largestV))
  return ([1, 2, 5, 10].find((step) => step * decade >= 1.2 * largestV) ?? 10) * decade
}
