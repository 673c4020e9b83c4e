import { plural } from '#shared/domain/quantity-text.ts'
import { stat } from 'node:fs/promises'
import { join } from 'node:path'
import type { Command } from 'commander'
import { DEFAULT_RECIPE } from '#shared/domain/recipe.ts'
import type { MeasureId } from '#shared/domain/measures.ts'
import type { Store } from '#main/core/ports.ts'
import { createExporter } from '#main/export/exporter.ts'
import { writeExport } from '#main/export/file.ts'
import type { TableRequest } from '#shared/contract/exports.ts'
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
  const file = await createExporter(store).table(await requestOf(what, id, options, store))
  if (options.out === '-') {
    for await (const { bytes } of file.pieces(signal)) await process.write(bytes)
    return
  }
  const { path, done, bytes } = await writeExport(await placeOf(options.out, file.name), file, {
    signal,
    onProgress: (rows) => output.progress(`${rows} of ${file.total} rows`, { rows, total: file.total }),
  })
  output.result({ path, rows: done, bytes }, () => `${path}: ${plural(done, 'row')}, ${plural(bytes, 'byte')}`)
}

async function requestOf(what: Exported, id: number, options: ExportOptions, store: Store): Promise<TableRequest> {
  if (what === 'trace') return { what, captureId: id }
  const { hash: recipeHash } = await storedRecipe(store, options.recipe)
  if (what === 'captures' || options.measure === undefined) return { what, sweepId: id, recipeHash }
  return { what, sweepId: id, recipeHash, measures: [options.measure] }
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
