import { stat } from 'node:fs/promises'
import { join } from 'node:path'
import type { Command } from 'commander'
import { DEFAULT_RECIPE } from '#shared/domain/recipe.ts'
import type { MeasureId } from '#shared/domain/measures.ts'
import type { Store } from '#main/core/ports.ts'
import { csvChunks, type Table } from '#main/export/csv.ts'
import { writeTable } from '#main/export/file.ts'
import { capturesTable, matrixTable } from '#main/export/tables.ts'
import { traceTable } from '#main/export/trace.ts'
import { idOption, measureOption, oneOf } from '../options.ts'
import type { CliProcess } from '../host.ts'
import type { Output } from '../output.ts'
import { storedRecipe } from './show.ts'

export const EXPORTED = ['matrix', 'captures', 'trace'] as const
type Exported = (typeof EXPORTED)[number]

export interface ExportOptions {
  readonly recipe: string
  readonly measure?: MeasureId
  readonly out?: string
}

export function describeExport(command: Command): Command {
  return command
    .description('write the matrix or captures of a sweep, or the raw trace of a capture, as CSV')
    .argument('<what>', 'matrix, captures or trace', oneOf(EXPORTED))
    .argument('<id>', 'sweep number, or capture number for a trace', idOption)
    .option('--recipe <recipe>', 'recipe of the results: name, hash or JSON file', DEFAULT_RECIPE.name)
    .option('--measure <measure>', 'matrix: this measure only (default: all)', measureOption)
    .option(
      '--out <file>',
      'file or folder to write to, - for standard output (default: a descriptive name in this folder)',
    )
    .addHelpText(
      'after',
      `
Examples:
  slewlight export matrix 3 --out matrix.csv
  slewlight export captures 3 --recipe "2 L*" --out results/
  slewlight export trace 17 --out - | head

Files are RFC 4180: commas, CRLF, one title line, UTF-8, an empty cell for a value that is undefined. Every row of
matrix and captures names campaign, sweep, setting, refresh rate, recipe, its hash and the algorithm. Numbers read
back to exactly the stored ones. A file is complete or not there at all.`,
    )
}

export async function runExport(
  what: Exported,
  id: number,
  options: ExportOptions,
  store: Store,
  process: CliProcess,
  output: Output,
  signal: AbortSignal,
): Promise<void> {
  const table = await tableOf(what, id, options, store)
  if (options.out === '-') {
    for await (const chunk of csvChunks(table, signal)) process.out(chunk.text)
    return
  }
  const written = await writeTable(await placeOf(options.out, table.name), table, {
    signal,
    onProgress: (rows, total) => output.progress(`${rows} of ${total} rows`, { rows, total }),
  })
  output.result(written, () => `${written.path}: ${written.rows} rows, ${written.bytes} bytes`)
}

async function tableOf(what: Exported, id: number, options: ExportOptions, store: Store): Promise<Table> {
  if (what === 'trace') return traceTable(store, id)
  const { hash } = await storedRecipe(store, options.recipe)
  const request = { sweepId: id, recipeHash: hash }
  if (what === 'captures') return capturesTable(store, request)
  return matrixTable(store, { ...request, ...(options.measure === undefined ? {} : { measures: [options.measure] }) })
}

/** The file to write: what was asked, with the proposed name inside a folder or where nothing was asked. */
async function placeOf(out: string | undefined, name: string): Promise<string> {
  if (out === undefined) return name
  const isFolder =
    /[/\\]$/.test(out) ||
    (await stat(out).then(
      (s) => s.isDirectory(),
      () => false,
    ))
  return isFolder ? join(out, name) : out
}
