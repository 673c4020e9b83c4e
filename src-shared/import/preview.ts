import { AppError, type ErrorDetail, toErrorDetail } from '#shared/domain/errors.ts'
import type { ImportMapping, ImportPreview } from '#shared/domain/import.ts'
import { envelopeOf } from '#shared/signal/envelope.ts'
import { checkedText } from './decode.ts'
import { pairFromName } from './file-name.ts'
import { guessMapping } from './guess.ts'
import { columnTitles } from './header.ts'
import { parseRecordingGently, type ParsedRecording } from './recording.ts'
import { cellsOfLine, walkLines } from './table.ts'

const SAMPLE_ROWS = 5
const MAX_HEADER_SHOWN = 500
/** A text that is no table may have any number of cells in a line and of characters in a cell. */
const MAX_COLUMNS_SHOWN = 32
const MAX_CELL_SHOWN = 60
const MAX_LINE_SHOWN = 200
const MAX_LINE_READ = 10_000

/** How a text in which no table is found is first laid out, for a person to correct. */
const PLAIN: ImportMapping = {
  delimiter: ',',
  decimal: '.',
  headerLines: 0,
  timeColumn: 0,
  timeScaleS: 1,
  voltageColumn: 1,
  voltageScaleV: 1,
  sampleIntervalS: null,
}

/**
 * What would be imported from a file and how it was read. Without a mapping one is guessed. The sample rate is 0 while
 * the sample interval of a file without time column is not known. A table that cannot be read is told in `problem`,
 * beside the columns as far as they go; a file that is no text rejects with `import-unreadable`. `pause` is awaited now
 * and then in long files. `columns` is the width of the envelope, 0 for none.
 */
export async function previewRecording(
  name: string,
  rawText: string,
  given: ImportMapping | null,
  pause: () => Promise<void> = () => Promise.resolve(),
  columns = 0,
): Promise<ImportPreview> {
  const text = checkedText(rawText)
  const { mapping, warnings, problem } =
    given === null ? guessed(text) : { mapping: given, warnings: [], problem: null }
  const needsInterval = mapping.timeColumn === null && mapping.sampleIntervalS === null
  // Everything but the rate can be shown before the interval is known.
  const read =
    problem === null
      ? await readOrSay(text, needsInterval ? { ...mapping, sampleIntervalS: 1 } : mapping, pause)
      : { parsed: null, problem }
  const { parsed } = read
  return {
    mapping,
    ...beginning(text, mapping),
    sampleCount: parsed?.trace.samples.length ?? 0,
    sampleRateHz: parsed === null || needsInterval ? 0 : parsed.trace.sampleRateHz,
    startS: parsed?.startS ?? 0,
    triggerIndex: parsed?.triggerIndex ?? 0,
    minV: parsed?.minV ?? 0,
    maxV: parsed?.maxV ?? 0,
    envelope:
      parsed === null || columns === 0
        ? null
        : envelopeOf(parsed.trace, 0, parsed.trace.samples.length / parsed.trace.sampleRateHz, columns),
    guess: pairFromName(name),
    warnings: [...warnings, ...(parsed?.warnings ?? [])],
    problem: read.problem,
  }
}

interface Guessed {
  readonly mapping: ImportMapping
  readonly warnings: readonly string[]
  readonly problem: ErrorDetail | null
}

function guessed(text: string): Guessed {
  try {
    return { ...guessMapping(text), problem: null }
  } catch (error) {
    if (!(error instanceof AppError)) throw error
    return { mapping: PLAIN, warnings: [], problem: error.detail }
  }
}

async function readOrSay(
  text: string,
  mapping: ImportMapping,
  pause: () => Promise<void>,
): Promise<{ parsed: ParsedRecording | null; problem: ErrorDetail | null }> {
  try {
    return { parsed: await parseRecordingGently(text, mapping, pause), problem: null }
  } catch (error) {
    if (!(error instanceof AppError) || error.code !== 'import-unreadable') throw error
    return { parsed: null, problem: toErrorDetail(error) }
  }
}

/** The lines above the numbers, and the columns with their titles and first cells. */
function beginning(text: string, mapping: ImportMapping): Pick<ImportPreview, 'header' | 'columns'> {
  const walker = walkLines(text)
  const header: string[] = []
  const rows: string[][] = []
  for (let line = walker.next(); line !== null && rows.length < SAMPLE_ROWS; line = walker.next()) {
    const part = line.slice(0, MAX_LINE_READ)
    if (walker.line <= mapping.headerLines) {
      if (header.length < MAX_HEADER_SHOWN) header.push(part)
    } else if (part.trim() !== '') rows.push(cellsOfLine(part, mapping.delimiter))
  }
  const chosen = Math.max(mapping.voltageColumn + 1, (mapping.timeColumn ?? 0) + 1)
  const width = Math.max(chosen, Math.min(MAX_COLUMNS_SHOWN, Math.max(0, ...rows.map((row) => row.length))))
  const titles = header.map((line) => cellsOfLine(line, mapping.delimiter))
  return {
    header: header.map((line) => line.slice(0, MAX_LINE_SHOWN)),
    columns: columnTitles(titles, width, mapping.decimal).map((name, index) => ({
      index,
      name: name.slice(0, MAX_CELL_SHOWN),
      sample: rows.map((row) => (row[index] ?? '').slice(0, MAX_CELL_SHOWN)),
    })),
  }
}
