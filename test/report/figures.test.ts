import { parseHTML } from 'linkedom'
import { describe, expect, it } from 'vitest'
import { curveFigure } from '#shared/figures/curve.ts'
import { gamutFigure } from '#shared/figures/gamut.ts'
import { movingEdgeFigure } from '#shared/figures/moving-edge.ts'
import { overRefreshDomain, overRefreshFigure } from '#shared/figures/over-refresh.ts'
import { rankingFigure } from '#shared/figures/ranking.ts'
import type { FigureElement } from '#shared/figures/svg.ts'
import { FIGURE_IDS, type FigureId, type MeasuredPoint } from '#shared/findings/campaign/figures.ts'

const host = { document: parseHTML('<!doctype html><html><body></body></html>').document }
const empty = Object.fromEntries(FIGURE_IDS.map((id) => [id, null])) as Record<FigureId, null>
const share = (refreshHz: number, value: number): MeasuredPoint => ({
  sweepId: 1,
  setting: 'Gentle',
  refreshHz,
  figures: { ...empty, in_window_share: { value, u: 6, dof: 40, shared: 0 } },
})

/** The colour a text is drawn in: its own, or that of the group it stands in. */
function fillOf(figure: FigureElement, name: string): string | undefined {
  const before = figure.outerHTML.slice(0, figure.outerHTML.indexOf(`>${name}</text>`))
  return [...before.matchAll(/ fill="([^"]+)"/g)].at(-1)?.[1]
}

describe('figures', () => {
  it('are drawn as wide as there is room, within what their text needs', () => {
    const points = [share(60, 5), share(100, 90)]
    const widths = [undefined, 1000, 512, 300].map((width) =>
      overRefreshFigure(width === undefined ? host : { ...host, width }, 'in_window_share', points, {}).getAttribute(
        'width',
      ),
    )
    expect(widths).toEqual(['680', '680', '512', '420'])
  })

  it('draw red, green and blue in the series’ orange, green and blue', () => {
    const points = [
      { x: 0, y: 99 },
      { x: 255, y: 101 },
    ]
    const figure = curveFigure(
      host,
      { id: 'rgb', description: 'RGB', x: 'Grey level', y: '%' },
      ['red', 'green', 'blue'].map((name, k) => ({ name, points, look: [1, 2, 0][k] as number })),
      { level: 100 },
    )
    expect(['red', 'green', 'blue'].map((name) => fillOf(figure, name))).toEqual([
      'var(--fig-series-2)',
      'var(--fig-series-3)',
      'var(--fig-series-1)',
    ])
    // The level is a line of its own, not one of the grid's.
    expect(figure.outerHTML).toMatch(
      /stroke="var\(--fig-ink\)"[^>]*stroke-dasharray="6 3"|stroke-dasharray="6 3"[^>]*stroke="var\(--fig-ink\)"/,
    )
  })

  it('have a line of the grid at every number of the axis, and no other', () => {
    const { outerHTML } = overRefreshFigure(host, 'in_window_share', [share(60, 5), share(100, 90)], {})
    const numbers = [...outerHTML.matchAll(/<path d="M0,0L-6,0" transform="translate\(58,([\d.]+)\)"/g)]
    const grid = /<g stroke="var\(--fig-faint\)".*?<\/g>/.exec(outerHTML)?.[0] ?? ''
    const lines = [...grid.matchAll(/ y1="([\d.]+)"/g)]
    expect(numbers.length).toBeGreaterThan(3)
    expect(lines.map(([, y]) => Number(y))).toEqual(numbers.map(([, y]) => Number(y)))
  })

  it('keep shares within 0 to 100 %', () => {
    const points = [share(60, 5), share(100, 98)]
    expect(overRefreshDomain('in_window_share', points, null)).toEqual([0, 106])
    const ranking = { ranked: [{ best: 1, worst: 1 }] } as unknown as Parameters<typeof rankingFigure>[3]
    const { outerHTML } = rankingFigure(
      host,
      { id: 'in_window_share', label: 'In window', unit: '%', better: 'high' },
      [{ name: 'A', estimate: { value: 5, u: 6, dof: 40, shared: 0 } }],
      ranking,
    )
    expect(outerHTML).not.toMatch(/>−\d/)
  })

  it('name the states of a gamut one under the other, beside the drawing', () => {
    const srgb = [
      [0.4124, 0.2126, 0.0193],
      [0.3576, 0.7152, 0.1192],
      [0.1805, 0.0722, 0.9505],
    ] as const
    const picture = (name: string) => ({ name, primaries: srgb, white: [0.9505, 1, 1.089] as const })
    const { outerHTML } = gamutFigure(host, 'xy', [picture('Before'), picture('After')])
    const at = ['Before', 'After'].map((name) => {
      const found = new RegExp(`translate\\(([\\d.]+),([\\d.]+)\\)"[^>]*>${name}<`).exec(outerHTML)
      return [Number(found?.[1]), Number(found?.[2])] as const
    })
    expect(at[0]?.[0]).toBe(at[1]?.[0])
    expect((at[1]?.[1] ?? 0) - (at[0]?.[1] ?? 0)).toBeGreaterThan(14)
  })

  it('show what lies before a moving edge', () => {
    const edge = { timeS: Float64Array.of(-0.01, 0, 0.01, 0.02), light: Float64Array.of(0, 0, 1, 1) }
    const { outerHTML } = movingEdgeFigure(host, { id: 'edge', description: '' }, [{ name: 'A', edge }], 1000, 1)
    // 10 px before the edge and 20 behind it.
    expect(outerHTML).toContain('>−10</text>')
    expect(outerHTML).toContain('>20</text>')
    expect(outerHTML).toContain('rgb(0,0,0)')
  })
})
