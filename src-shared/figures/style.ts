/**
 * How figures look, on screens and in reports alike. Colours are named (`var(--fig-…)`), so that one figure serves
 * light, dark and print; `withColours` writes them out where nothing resolves names.
 */
export interface FigureColours {
  readonly ink: string
  readonly faint: string
  readonly paper: string
  readonly limit: string
  readonly series: readonly string[]
}

/** After Okabe and Ito's set for colour-blind eyes (from memory), each dark or light enough for its paper (3 : 1). */
export const LIGHT: FigureColours = {
  ink: '#1d2329',
  faint: '#c3cad1',
  paper: '#ffffff',
  limit: '#9a3412',
  series: ['#0072b2', '#a65200', '#007a5a', '#a0447c', '#5b5b00', '#4d4d9a'],
}
export const DARK: FigureColours = {
  ink: '#ccd4dc',
  faint: '#323d48',
  paper: '#12171d',
  limit: '#e08a5a',
  series: ['#6bb2e0', '#e39a4d', '#4fbf97', '#d58ab8', '#b8b04a', '#a3a3e0'],
}

export const INK = 'var(--fig-ink)'
export const FAINT = 'var(--fig-faint)'
export const PAPER = 'var(--fig-paper)'
export const LIMIT = 'var(--fig-limit)'

/** A series is told by colour, dash and symbol, so that no one of them is needed. */
export interface SeriesStyle {
  readonly colour: string
  readonly dash: string
  readonly symbol: 'circle' | 'square' | 'triangle' | 'diamond' | 'cross' | 'star'
}

const DASHES = ['none', '7 3', '2 3', '9 3 2 3', '12 4', '4 2 1 2']
const SYMBOLS = ['circle', 'square', 'triangle', 'diamond', 'cross', 'star'] as const

export function seriesStyle(index: number): SeriesStyle {
  const at = index % SYMBOLS.length
  return {
    colour: `var(--fig-series-${at + 1})`,
    dash: DASHES[at] as string,
    symbol: SYMBOLS[at] as SeriesStyle['symbol'],
  }
}

function named({ ink, faint, paper, limit, series }: FigureColours): [name: string, value: string][] {
  return [
    ['--fig-ink', ink],
    ['--fig-faint', faint],
    ['--fig-paper', paper],
    ['--fig-limit', limit],
    ...series.map((colour, i): [string, string] => [`--fig-series-${i + 1}`, colour]),
  ]
}

/** Declarations of the names for a style sheet. */
export const colourDeclarations = (colours: FigureColours): string =>
  named(colours)
    .map(([name, value]) => `${name}: ${value};`)
    .join(' ')

/** The same figure with every name replaced by its colour. */
export function withColours(svg: string, colours: FigureColours): string {
  let text = svg.replaceAll('currentColor', colours.ink)
  for (const [name, value] of named(colours)) text = text.replaceAll(`var(${name})`, value)
  return text
}

/** Axes named in words, without the arrows and corners the plot library gives them. */
export const xAxis = (label: string) => ({ label, labelArrow: 'none', labelAnchor: 'center' }) as const
/** Of a vertical axis, and of its grid: lines stand where numbers do. */
export const TICKS = 5
export const yAxis = (label: string) => ({ label, labelArrow: 'none', ticks: TICKS }) as const
