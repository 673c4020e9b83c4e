import { readFile } from 'node:fs/promises'
import { AppError } from '#shared/domain/errors.ts'
import { figureSvg } from '#shared/figures/file.ts'
import { figureFonts, FIGURE_FONT } from './raster.ts'
import { SHORT_TABLE, type ReportDocument } from '#shared/report/document.ts'

/** So many px of a figure are as wide as the text. */
const PAGE_PX = 760
/** Between two figures in a row, percent of the width of the text. */
const GUTTER_PCT = 4
/** Two figures of together so many px still have text of 7 pt in one row. */
const PAIR_PX = 920
/** Matrices are smaller than other figures, so that three of seven levels stand on a page. */
const MATRIX_SCALE = 0.86

/** Data comes in as JSON and is never spliced into the source, so no text of a person is ever read as a program. */
const SOURCE = `
#let report = json("/report.json")
#set document(title: report.title, date: none)
#set page(paper: "a4", margin: (x: 20mm, y: 22mm), numbering: "1 / 1", header: if report.warning != "" {
  align(right, text(9pt, weight: "bold", report.warning))
})
#set text(font: "Libertinus Serif", size: 10.5pt, lang: "en")
#set par(leading: 0.62em, spacing: 0.9em)
#show heading.where(level: 1): set text(20pt)
#show heading.where(level: 2): it => block(above: 1.8em, below: 0.8em, text(14pt, it.body))
#show figure.caption: set text(9pt)
#show figure.where(kind: table): set figure.caption(position: top)
#show figure.where(kind: table): it => {
  show figure.caption: set text(weight: "bold")
  it
}
#heading(level: 1, report.title)
#text(report.subtitle)

#let drawn(part, width) = figure(supplement: none, numbering: none, caption: part.caption,
  image("/figures/" + part.id + ".svg", alt: part.description, width: width))
#let short = ${SHORT_TABLE}
#let block-of(part) = {
  if part.kind == "paragraph" { par(part.text) }
  else if part.kind == "answer" { block(above: 1em, below: 1em, text(13pt, part.text)) }
  else if part.kind == "list" { list(..part.items) }
  else if part.kind == "table" {
    show figure: set block(breakable: part.rows.len() > short)
    figure(kind: table, supplement: none, numbering: none, caption: part.caption, text(8.5pt, table(
      columns: part.columns.len(),
      stroke: (x: none, y: 0.4pt + luma(75%)),
      inset: (x: 4pt, y: 3pt),
      align: (column, row) => if part.columns.at(column).align == "right" { right } else { left },
      table.header(..part.columns.map(column => strong(column.heading))),
      ..part.rows.flatten(),
    )))
  }
  else if part.kind == "figure" { drawn(part, part.width * 1%) }
  else if part.kind == "pair" {
    align(center, grid(columns: part.figures.map(one => one.width * 1%), column-gutter: ${GUTTER_PCT}%,
      ..part.figures.map(one => drawn(one, 100%))))
  }
}

#for section in report.sections {
  heading(level: 2, section.heading)
  for part in section.blocks { block-of(part) }
}
`

const WORKSPACE = '/'

/**
 * A report as PDF by Typst, the same bytes for the same report and fonts: figures have their own where it is installed,
 * else one that every copy of the typesetter has. Rejects with `not-found` where the optional
 * typesetter is not installed: the page for browsers is then the only form.
 */
export async function reportPdf(document: ReportDocument): Promise<Buffer> {
  const { NodeCompiler } = await typesetter()
  const fonts = await Promise.all(figureFonts().map((file) => readFile(file)))
  const font = fonts.length === 0 ? 'DejaVu Sans Mono' : FIGURE_FONT
  const compiler = NodeCompiler.create({ workspace: WORKSPACE, fontArgs: [{ fontBlobs: fonts }] })
  const sections = document.sections.map(({ heading, blocks }) => ({
    heading,
    blocks: inRows(
      blocks.map((block) => {
        if (block.kind !== 'figure') return block
        const { kind, id, caption, description, svg } = block
        compiler.mapShadow(`${WORKSPACE}figures/${id}.svg`, Buffer.from(figureSvg(svg, font)))
        const px = pxOf(svg)
        return { kind, id, caption, description, px, width: widthPct(px, id) }
      }),
    ),
  }))
  const { title, subtitle, warning } = document
  compiler.mapShadow(`${WORKSPACE}report.json`, Buffer.from(JSON.stringify({ title, subtitle, warning, sections })))
  const compiled = compiler.compile({ mainFileContent: SOURCE })
  if (compiled.hasError() || compiled.result === null) {
    const text =
      compiled
        .takeDiagnostics()
        ?.shortDiagnostics.map(({ message }) => message)
        .join('; ') ?? ''
    throw new AppError('internal', `The report could not be typeset: ${text}`)
  }
  return compiler.pdf(compiled.result)
}

const pxOf = (svg: string): number => Number(/<svg[^>]* width="(\d+(?:\.\d+)?)"/.exec(svg)?.[1] ?? PAGE_PX)

/** A figure as wide as the page holds 760 px, so that text in all figures is of one size; matrices a little smaller. */
const widthPct = (px: number, id: string): number =>
  Math.min(100, (100 * px * (id.startsWith('matrix-') ? MATRIX_SCALE : 1)) / PAGE_PX)

interface SetFigure {
  readonly kind: 'figure'
  readonly px: number
  readonly width: number
}
interface FigurePair<F> {
  readonly kind: 'pair'
  readonly figures: readonly F[]
}

/** Two narrow figures that follow each other share a row. */
function inRows<F extends SetFigure, B extends { readonly kind: string }>(
  blocks: readonly (F | B)[],
): (F | B | FigurePair<F>)[] {
  const rows: (F | B | FigurePair<F>)[] = []
  for (const block of blocks) {
    const before = rows.at(-1)
    if (!isFigure(block) || before === undefined || !isFigure(before) || before.px + block.px > PAIR_PX) {
      rows.push(block)
      continue
    }
    const scale = Math.min(100 / PAGE_PX, (100 - GUTTER_PCT) / (before.px + block.px))
    rows[rows.length - 1] = { kind: 'pair', figures: [before, block].map((one) => ({ ...one, width: one.px * scale })) }
  }
  return rows
}

const isFigure = <F extends SetFigure>(block: F | { readonly kind: string }): block is F => block.kind === 'figure'

type Typesetter = Pick<typeof import('@myriaddreamin/typst-ts-node-compiler'), 'NodeCompiler'>

async function typesetter(): Promise<Typesetter> {
  try {
    // A CommonJS module: bundled code sees its exports on `default`, sources run directly see them by name.
    const loaded: Typesetter & { readonly default?: Typesetter } = await import('@myriaddreamin/typst-ts-node-compiler')
    return loaded.default ?? loaded
  } catch {
    throw new AppError(
      'not-found',
      'PDF needs the optional package @myriaddreamin/typst-ts-node-compiler, which is not installed here.',
      'Ask for HTML, which holds the same and can be printed from a browser.',
    )
  }
}
