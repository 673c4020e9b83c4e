import type { Theme } from '../ui/theme.ts'

/** Colours of the plot, read from the tokens of the current theme. */
export interface PlotTheme {
  readonly name: Theme
  readonly text: string
  readonly muted: string
  readonly grid: string
  readonly axis: string
  readonly surface: string
  readonly trace: string
  readonly traceFill: string
  readonly level: string
  readonly startBand: string
  readonly endBand: string
  readonly window: string
  readonly onset: string
  readonly arrival: string
  readonly settled: string
  readonly crossing: string
  readonly excursion: string
  readonly limit: string
  readonly raw: string
  readonly repeat: string
  readonly repeatLeftOut: string
  readonly mean: string
  readonly other: string
  readonly shade: string
  readonly shadeEdge: string
  readonly levelWindow: string
  readonly blur: string
  readonly frame: string
  readonly font: string
}

export function readPlotTheme(element: HTMLElement, name: Theme): PlotTheme {
  const style = getComputedStyle(element)
  const token = (name: string) => style.getPropertyValue(name).trim()
  return {
    name,
    text: token('--text'),
    muted: token('--text-muted'),
    grid: token('--plot-grid'),
    axis: token('--plot-axis'),
    surface: token('--surface'),
    trace: token('--plot-trace'),
    traceFill: token('--plot-trace-fill'),
    level: token('--plot-level'),
    startBand: token('--plot-start-band'),
    endBand: token('--plot-end-band'),
    window: token('--plot-window'),
    onset: token('--plot-onset'),
    arrival: token('--plot-arrival'),
    settled: token('--plot-settled'),
    crossing: token('--plot-crossing'),
    excursion: token('--plot-excursion'),
    limit: token('--plot-limit'),
    raw: token('--plot-raw'),
    repeat: token('--plot-repeat'),
    repeatLeftOut: token('--plot-repeat-left-out'),
    mean: token('--plot-mean'),
    other: token('--plot-other'),
    shade: token('--plot-shade'),
    shadeEdge: token('--plot-shade-edge'),
    levelWindow: token('--plot-level-window'),
    blur: token('--plot-blur'),
    frame: token('--plot-frame'),
    font: style.fontFamily,
  }
}
