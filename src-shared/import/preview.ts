import type { ImportMapping, ImportPreview } from '#shared/domain/import.ts'
import { checkedText } from './decode.ts'
import { pairFromName } from './file-name.ts'
import { guessMapping } from './guess.ts'
import { columnTitles } from './header.ts'
import { parseRecordingGently } from './recording.ts'
import { cellsOfLine, walkLines } from './table.ts'

const SAMPLE_ROWS = 5
const MAX_HEADER_SHOWN = 500

/**
 * What would be imported from a file and how it was read. Without a mapping one is guessed. The sample rate is 0 while
 * the sample interval of a file without time column is not known; everything else that is wrong rejects
 * with `import-unreadable`. `pause` is awaited now and then in long files.
 */
export async function previewRecording(
  name: string,
  rawText: string,
  given: ImportMapping | null,
  pause: () => Promise<void> = () => Promise.resolve(),
): Promise<ImportPreview> {
  const text = checkedText(rawText)
  const guess = given === null ? guessMapping(text) : null
  const mapping = given ?? (guess?.mapping as ImportMapping)
  const { header, rows } = beginning(text, mapping)
  const titles = header.map((line) => cellsOfLine(line, mapping.delimiter))
  const width = Math.max(mapping.voltageColumn + 1, (mapping.timeColumn ?? 0) + 1, ...rows.map((row) => row.length))
  const columns = columnTitles(titles, width, mapping.decimal).map((name, index) => ({
    index,
    name,
    sample: rows.map((row) => row[index] ?? ''),
  }))
  const needsInterval = mapping.timeColumn === null && mapping.sampleIntervalS === null
  // Everything but the rate can be shown before the interval is known.
  const parsed = await parseRecordingGently(text, needsInterval ? { ...mapping, sampleIntervalS: 1 } : mapping, pause)
  return {
    mapping,
    columns,
    header,
    sampleCount: parsed.trace.samples.length,
    sampleRateHz: needsInterval ? 0 : parsed.trace.sampleRateHz,
    startS: parsed.startS,
    minV: parsed.minV,
    maxV: parsed.maxV,
    guess: pairFromName(name),
    warnings: [...(guess?.warnings ?? []), ...parsed.warnings],
  }
}

function beginning(text: string, mapping: ImportMapping): { header: string[]; rows: string[][] } {
  const walker = walkLines(text)
  const header: string[] = []
  const rows: string[][] = []
  for (let line = walker.next(); line !== null && rows.length < SAMPLE_ROWS; line = walker.next()) {
    if (walker.line <= mapping.headerLines) {
      if (header.length < MAX_HEADER_SHOWN) header.push(line)
    } else if (line.trim() !== '') rows.push(cellsOfLine(line, mapping.delimiter))
  }
  return { header, rows }
}
