/** The figures of a display's record, those there are numbers for, with their captions and the numbers drawn. */
import type { DisplayRecord } from '#shared/record/record.ts'
import { TARGETS } from '#shared/colour/targets.ts'
import { curveFigure } from './curve.ts'
import { waitText } from '#shared/record/latency-part.ts'
import { delayHistogram } from './delay-histogram.ts'
import { gamutFigure } from './gamut.ts'
import { powerBars } from './power-bars.ts'
import type { FigureElement, FigureHost } from './svg.ts'
import { uniformityMap } from './uniformity-map.ts'

export interface RecordFigureView {
  /** Unique among them; also the name of its file. */
  readonly id: string
  /** The quantity it belongs to. */
  readonly quantity: string
  readonly caption: string
  readonly draw: (host: FigureHost) => FigureElement
  readonly data: {
    readonly columns: readonly string[]
    readonly rows: readonly (readonly (string | number | null)[])[]
  }
}

export function recordFigures(record: DisplayRecord): RecordFigureView[] {
  return [
    ...latency(record),
    ...ladder(record),
    ...colour(record),
    ...uniformity(record),
    ...angle(record),
    ...warmUp(record),
    ...power(record),
  ]
}

function latency({ latency: { delaysMs, display, refreshHz } }: DisplayRecord): RecordFigureView[] {
  if (display === null || refreshHz === null) return []
  const { mean } = display
  return [
    {
      id: 'latency',
      quantity: 'latency',
      caption: `Event to light of ${display.n} events. Dashed: even over one frame, as a frame clock alone gives. ${waitText(display)}`,
      draw: (host) => delayHistogram(host, delaysMs, { frame: 1000 / refreshHz, mean }),
      data: { columns: ['delay_ms'], rows: delaysMs.map((delay) => [delay]) },
    },
  ]
}

function ladder({ ladder: { ladder: measured, gamma } }: DisplayRecord): RecordFigureView[] {
  if (measured === null) return []
  const points = measured.points.map(({ code, luminance }) => ({ x: code, y: luminance }))
  const figures: RecordFigureView[] = [
    {
      id: 'ladder',
      quantity: 'ladder',
      caption: `Luminance over grey level by the ${measured.by}, logarithmic.`,
      draw: (host) =>
        curveFigure(
          host,
          { id: 'ladder', description: 'Luminance over grey level.', x: 'Grey level', y: 'Luminance, cd/m²' },
          [{ name: 'measured', points }],
          { y: 'log' },
        ),
      data: { columns: ['code', 'luminance_cd_m2'], rows: points.map(({ x, y }) => [x, y]) },
    },
  ]
  const steps = (gamma?.points ?? []).flatMap(({ code, stepGamma }) =>
    stepGamma === null ? [] : [{ x: code, y: stepGamma }],
  )
  if (gamma !== null && steps.length > 1)
    figures.push({
      id: 'gamma',
      quantity: 'ladder',
      caption: `Gamma by step, and the fitted ${gamma.gamma.toFixed(3)} as a dashed line; black ${gamma.black}.`,
      draw: (host) =>
        curveFigure(
          host,
          { id: 'gamma', description: 'Gamma of each step of the ladder.', x: 'Grey level', y: 'Gamma by step' },
          [{ name: 'by step', points: steps }],
          { level: gamma.gamma },
        ),
      data: {
        columns: ['code', 'step_gamma', 'residual_ln'],
        rows: gamma.points.map(({ code, stepGamma, residual }) => [code, stepGamma, residual]),
      },
    })
  return figures
}

function colour({ colour: { states }, choice }: DisplayRecord): RecordFigureView[] {
  if (states.length === 0) return []
  const { label } = TARGETS[choice.target]
  const grey = states.filter(({ result }) => result.grey.length > 1)
  const figures: RecordFigureView[] = []
  if (grey.length > 0)
    figures.push({
      id: 'grey-scale',
      quantity: 'colour',
      caption: `ΔE 2000 of the grey scale to ${label}, counted against the white of the ${choice.white}.`,
      draw: (host) =>
        curveFigure(
          host,
          {
            id: 'grey-scale',
            description: `Colour difference of the grey scale to ${label}.`,
            x: 'Grey level',
            y: 'ΔE 2000',
          },
          grey.map(({ label: name, result }) => ({
            name,
            points: result.grey.map(({ code, de2000 }) => ({ x: code, y: de2000 })),
          })),
          { from: 0 },
        ),
      data: {
        columns: ['state', 'code', 'de2000', 'de_itp', 'cct_k', 'duv'],
        rows: grey.flatMap(({ label: name, result }) =>
          result.grey.map(({ code, de2000, deItp, temperature }) => [
            name,
            code,
            de2000,
            deItp,
            temperature?.cctK ?? null,
            temperature?.duv ?? null,
          ]),
        ),
      },
    })
  const last = grey.at(-1)
  const balance = (last?.result.grey ?? []).flatMap(({ code, balance: parts }) =>
    parts === null ? [] : [{ code, parts }],
  )
  if (last !== undefined && balance.length > 1)
    figures.push({
      id: 'rgb-balance',
      quantity: 'colour',
      caption: `Red, green and blue light of each grey in ${label} primaries, ${last.label.toLowerCase()}; 100 % each, dashed, is the target’s white.`,
      draw: (host) =>
        curveFigure(
          host,
          {
            id: 'rgb-balance',
            description: 'Red, green and blue light of the grey scale.',
            x: 'Grey level',
            y: 'Share of the target’s white, %',
          },
          ['red', 'green', 'blue'].map((name, k) => ({
            name,
            // The orange, green and blue of the series.
            look: [1, 2, 0][k] as number,
            points: balance.map(({ code, parts }) => ({ x: code, y: parts[k] as number })),
          })),
          { level: 100 },
        ),
      data: { columns: ['code', 'r_pct', 'g_pct', 'b_pct'], rows: balance.map(({ code, parts }) => [code, ...parts]) },
    })
  const gamuts = states.flatMap(({ label: name, result }) =>
    result.gamut === null ? [] : [{ name, primaries: result.gamut.primaries, white: result.white }],
  )
  for (const diagram of ['uv', 'xy'] as const)
    if (gamuts.length > 0)
      figures.push({
        id: `gamut-${diagram}`,
        quantity: 'colour',
        caption: `Gamut in ${diagram === 'xy' ? 'CIE 1931 x, y' : 'CIE 1976 u′, v′'} with the spectral locus and the triangles of standards.`,
        draw: (host) => gamutFigure(host, diagram, gamuts),
        data: {
          columns: ['state', 'primary', 'X', 'Y', 'Z'],
          rows: gamuts.flatMap(({ name, primaries }) =>
            primaries.map((xyz, k) => [name, ['red', 'green', 'blue'][k] as string, ...xyz]),
          ),
        },
      })
  return figures
}

function uniformity({ uniformity: { uniformity: found } }: DisplayRecord): RecordFigureView[] {
  if (found === null) return []
  return [
    {
      id: 'uniformity',
      quantity: 'uniformity',
      caption: 'Luminance of white over the brightest place; the darkest is framed.',
      draw: (host) => uniformityMap(host, found),
      data: {
        columns: ['row', 'column', 'share'],
        rows: found.map.flatMap((row, i) => row.map((share, k) => [i + 1, k + 1, share])),
      },
    },
  ]
}

function angle({ angle: { angle: found } }: DisplayRecord): RecordFigureView[] {
  if (found === null || found.relative.length < 2) return []
  const points = found.relative.map(({ degrees, share }) => ({ x: degrees, y: 100 * share }))
  return [
    {
      id: 'angle',
      quantity: 'angle',
      caption: 'Luminance of white over the angle from the normal. Dashed: half.',
      draw: (host) =>
        curveFigure(
          host,
          { id: 'angle', description: 'Luminance over viewing angle.', x: 'Angle, °', y: 'Luminance, % of the normal' },
          [{ name: 'white', points }],
          { from: 0, level: 50 },
        ),
      data: { columns: ['degrees', 'percent'], rows: points.map(({ x, y }) => [x, y]) },
    },
  ]
}

function warmUp({ warmUp: { points } }: DisplayRecord): RecordFigureView[] {
  if (points.length < 2) return []
  return [
    {
      id: 'warm-up',
      quantity: 'warm-up',
      caption: 'White over time since switching on.',
      draw: (host) =>
        curveFigure(
          host,
          { id: 'warm-up', description: 'Luminance of white over time.', x: 'Minutes', y: 'Luminance, cd/m²' },
          [{ name: 'white', points: points.map(({ minutes, luminance }) => ({ x: minutes, y: luminance })) }],
        ),
      data: {
        columns: ['minutes', 'luminance_cd_m2'],
        rows: points.map(({ minutes, luminance }) => [minutes, luminance]),
      },
    },
  ]
}

function power({ power: { rows } }: DisplayRecord): RecordFigureView[] {
  if (rows.length === 0) return []
  return [
    {
      id: 'power',
      quantity: 'power',
      caption: 'Power of each picture measured.',
      draw: (host) => powerBars(host, rows),
      data: {
        columns: ['pattern', 'power_w', 'luminance_cd_m2', 'w_per_cd'],
        rows: rows.map(({ pattern, watts, luminance, wattsPerCd }) => [pattern, watts, luminance, wattsPerCd]),
      },
    },
  ]
}
