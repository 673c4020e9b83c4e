/**
 * A report as plain data, made once and written as a page for browsers and as pages for print. Text is plain text; who
 * renders it escapes it.
 */
export interface ReportDocument {
  readonly title: string
  readonly subtitle: string
  /** Stands on every page; empty for a measured display. "Invented" for anything from a simulated rig. */
  readonly warning: string
  readonly sections: readonly ReportSection[]
}

export interface ReportSection {
  /** Anchor; letters, digits and hyphens. */
  readonly id: string
  readonly heading: string
  readonly blocks: readonly ReportBlock[]
}

export type ReportBlock =
  | { readonly kind: 'paragraph'; readonly text: string }
  /** What the reader came for: set larger. */
  | { readonly kind: 'answer'; readonly text: string }
  | { readonly kind: 'list'; readonly items: readonly string[] }
  | ReportTable
  | ReportFigure

export interface ReportTable {
  readonly kind: 'table'
  readonly caption: string
  readonly columns: readonly ReportColumn[]
  readonly rows: readonly (readonly string[])[]
}

/** A table of so many rows stands on one page; a longer one goes on with its headings repeated. */
export const SHORT_TABLE = 24

interface ReportColumn {
  readonly heading: string
  readonly align: 'left' | 'right'
}

export interface ReportFigure {
  readonly kind: 'figure'
  /** File name of its picture and data, without ending. */
  readonly id: string
  readonly caption: string
  /** What it shows, for those who cannot see it. */
  readonly description: string
  /** SVG with named colours, see figures/style.ts. */
  readonly svg: string
  /** The numbers drawn. */
  readonly data: {
    readonly columns: readonly string[]
    readonly rows: readonly (readonly (string | number | null)[])[]
  }
}

/** Every figure of a report in the order of reading. */
export const figuresOf = (document: ReportDocument): ReportFigure[] =>
  document.sections.flatMap(({ blocks }) => blocks.filter((block) => block.kind === 'figure'))
