import type { Ladder } from '#shared/domain/capture.ts'
import { rowsOf } from '#shared/domain/record-kinds.ts'
import type { Reading } from '#shared/domain/reading.ts'
import { viewingAngle, type ViewingAngle } from '#shared/light/angle.ts'
import { contrast } from '#shared/light/contrast.ts'
import { fitGamma, type Gamma, type LadderPoint } from '#shared/light/gamma.ts'
import { calibrateDetector, luminanceFromVolts } from '#shared/light/photodiode.ts'
import { efficiency } from '#shared/light/power.ts'
import { uniformity, type Uniformity } from '#shared/light/uniformity.ts'
import { studentT95 } from '#shared/signal/distributions.ts'
import { spreadOf } from './draws.ts'
import { listedFigure, ownEstimate, type RecordFigure } from './figures.ts'
import { newest, plainNumber, quantityOf, type RecordQuantity } from './quantity.ts'

const TWO = 2

/** A ladder in cd/m², by a meter or by the calibrated detector. */
interface LightLadder {
  readonly by: 'meter' | 'detector'
  readonly points: readonly (LadderPoint & {
    /** Standard uncertainty; null when none is stated. */ readonly u: number | null
  })[]
}

export interface LadderPart {
  readonly quantity: RecordQuantity
  readonly ladder: LightLadder | null
  readonly gamma: Gamma | null
}

/** @param measured ladder of a sweep in volts; null without one. */
export function ladderPart(readings: readonly Reading[], measured: Ladder | null): LadderPart {
  const typed = newest(readings, 'luminance-ladder')
  const calibration = newest(readings, 'detector-calibration')
  const ladder = typed === undefined ? detectorLadder(calibration, measured) : meterLadder(typed)
  const figures: RecordFigure[] = []
  const missing: string[] = []
  let gamma: Gamma | null = null
  if (ladder === null)
    missing.push(
      measured === null
        ? 'A luminance ladder, by a meter or by the calibrated detector.'
        : 'One reading of a luminance meter: the sweep’s ladder is then in cd/m². Or a ladder by a meter.',
    )
  else {
    const [first, last] = [ladder.points[0], ladder.points.at(-1)]
    const conditions = { by: ladder.by }
    const black = first?.code === 0 ? first : undefined
    if (last !== undefined && last.code === 255)
      figures.push(listedFigure('white_luminance', ownEstimate(last.luminance, last.u), conditions))
    else missing.push('White (grey level 255).')
    if (black !== undefined)
      figures.push({
        label: 'Black',
        value: black.luminance,
        unit: 'cd/m²',
        u95: black.u === null ? null : TWO * black.u,
      })
    else missing.push('Black (grey level 0).')
    if (black !== undefined && last !== undefined) {
      const ratio = contrast({ value: last.luminance, u: last.u ?? 0 }, { value: black.luminance, u: black.u ?? 0 })
      if (ratio !== null)
        figures.push(
          listedFigure(
            'contrast',
            ownEstimate(ratio.ratio, last.u === null ? null : ratio.u),
            conditions,
            ratio.atLeast ? { bound: 'at-least', note: 'Black lies in the noise of the reading.' } : {},
          ),
        )
      else missing.push('An uncertainty of black: without one a black of 0 bounds no contrast.')
    }
    gamma = fitGamma(ladder.points, black?.luminance ?? null)
    if (gamma !== null) figures.push(gammaFigure(gamma, ladder.by))
    if (ladder.points.length < 5) missing.push(`${ladder.points.length} of at least 5 grey levels.`)
  }
  return {
    quantity: quantityOf(
      'ladder',
      'Luminance, contrast, gamma',
      ['luminance-ladder', 'detector-calibration'],
      [typed, typed === undefined ? calibration : undefined],
      figures,
      missing,
    ),
    ladder,
    gamma,
  }
}

function gammaFigure({ gamma, u95, black, points }: Gamma, by: LightLadder['by']): RecordFigure {
  const codes = `${points.length} levels from ${points[0]?.code ?? 0} to 255`
  const dof = points.length - 2
  const estimate = ownEstimate(gamma, u95 === null ? null : u95 / studentT95(dof), dof)
  return listedFigure(
    'gamma',
    estimate,
    { by, black, levels: codes },
    { note: `Slope over ${codes}, black ${black}; a curve that is no power law widens the interval.` },
  )
}

function meterLadder(reading: Reading): LightLadder {
  const rows = rowsOf(reading)
  const codes = [...new Set(rows.map(([code]) => code as number))].sort((a, b) => a - b)
  const points = codes.map((code) => {
    const own = rows.filter((row) => row[0] === code)
    return { code, luminance: own.reduce((sum, row) => sum + (row[1] as number), 0) / own.length, u: reading.u }
  })
  return { by: 'meter', points }
}

function detectorLadder(reading: Reading | undefined, ladder: Ladder | null): LightLadder | null {
  const [row] = reading === undefined ? [] : rowsOf(reading)
  if (reading === undefined || row === undefined || ladder === null) return null
  const [luminance = 0, volts = 0, dark = 0] = row
  const noise = Math.max(...ladder.steps.map(({ sdV }) => sdV))
  const calibration = calibrateDetector({ value: luminance, u: reading.u ?? 0 }, volts, dark, 0)
  if (calibration === null) return null
  // A ladder without a dark level of its own has that of the calibration.
  const darkV = ladder.darkV ?? dark
  const points = [...ladder.steps]
    .sort((a, b) => a.level - b.level)
    // The scatter of single samples bounds what noise leaves in their mean.
    .map(({ level, meanV }) => {
      const { value, u } = luminanceFromVolts(calibration, meanV, darkV, noise)
      return { code: level, luminance: value, u: reading.u === null ? null : u }
    })
  return { by: 'detector', points }
}

export interface UniformityPart {
  readonly quantity: RecordQuantity
  readonly uniformity: Uniformity | null
}

export function uniformityPart(readings: readonly Reading[]): UniformityPart {
  const reading = newest(readings, 'uniformity')
  const points = reading === undefined ? [] : rowsOf(reading).map(([value]) => value as number)
  const found = uniformity(points)
  const figures: RecordFigure[] =
    found === null
      ? []
      : [
          listedFigure(
            'uniformity',
            ownEstimate(
              100 * found.minOverMax,
              spreadOf(points, reading?.u ?? null, (drawn) => [
                100 * (uniformity(drawn)?.minOverMax ?? Number.NaN),
              ])?.[0],
            ),
            { places: `${points.length} places` },
            {
              digits: 3,
              note: 'Noise alone lowers it: by about 3 % at 9 places and 4 % at 25 where each reading has 1 %.',
            },
          ),
          { label: 'Darkest over centre', value: 100 * found.minOverCentre, unit: '%', u95: null, digits: 3 },
          { label: 'Range over mean', value: 100 * found.rangeOverMean, unit: '%', u95: null, digits: 3 },
          { label: '200·(max − min)/(max + min)', value: found.deviationPct, unit: '%', u95: null, digits: 3 },
        ]
  const missing = found === null ? ['White at 9 or 25 places.'] : []
  return {
    quantity: quantityOf('uniformity', 'Uniformity', ['uniformity'], [reading], figures, missing),
    uniformity: found,
  }
}

export interface AnglePart {
  readonly quantity: RecordQuantity
  readonly angle: ViewingAngle | null
}

export function anglePart(readings: readonly Reading[]): AnglePart {
  const reading = newest(readings, 'viewing-angle')
  const points = reading === undefined ? [] : rowsOf(reading)
  const angle = viewingAngle(points.map(([degrees = 0, luminance = 0]) => ({ degrees, luminance })))
  const figures: RecordFigure[] = []
  const missing: string[] = []
  if (angle === null)
    missing.push(reading === undefined ? 'White over viewing angle, from the normal.' : 'White from the normal (0°).')
  else {
    for (const [side, half] of Object.entries(angle.halfDegrees))
      if (half !== null)
        figures.push({
          label: `Half luminance, ${side} side`,
          value: half,
          unit: '°',
          u95: null,
          digits: 2,
          note: 'Between the measured angles, linear.',
        })
    const last = angle.relative.at(-1)
    if (last !== undefined)
      figures.push({
        label: `Luminance at ${last.degrees}°`,
        value: 100 * last.share,
        unit: '%',
        u95: null,
        digits: 3,
        note: 'Of that from the normal.',
      })
    if (angle.relative.length < 3) missing.push('More angles, on both sides.')
  }
  return { quantity: quantityOf('angle', 'Viewing angle', ['viewing-angle'], [reading], figures, missing), angle }
}

export interface PowerPart {
  readonly quantity: RecordQuantity
  readonly rows: readonly {
    readonly pattern: string
    readonly watts: number
    readonly luminance: number
    readonly wattsPerCd: number | null
  }[]
}

/** Mean luminance from which power per candela is given, cd/m²: of a black picture it tells of black alone. A choice. */
const LEAST_LIGHT = 1

export function powerPart(readings: readonly Reading[]): PowerPart {
  const own = readings.filter((reading) => reading.kind === 'power' && !reading.hidden)
  const rows = own.flatMap((reading) =>
    rowsOf(reading).map(([watts = 0, luminance = 0, area = 0]) => ({
      pattern: reading.place === '' ? reading.quantity : reading.place,
      watts,
      luminance,
      area,
      wattsPerCd: luminance < LEAST_LIGHT ? null : (efficiency(watts, luminance, area)?.wattsPerCd ?? null),
      u: reading.u,
    })),
  )
  const figures = rows.flatMap(({ pattern, watts, luminance, area, wattsPerCd, u }): RecordFigure[] => [
    listedFigure(
      'power_w',
      ownEstimate(watts, u),
      { picture: pattern, 'cd/m²': luminance },
      {
        label: `Power, ${pattern}`,
        note: `At ${luminance} cd/m² over ${area} m².${luminance < LEAST_LIGHT ? ` No power per candela under ${LEAST_LIGHT} cd/m² (a choice).` : ''}`,
      },
    ),
    ...(wattsPerCd === null
      ? []
      : [
          listedFigure(
            'power_per_cd',
            ownEstimate(wattsPerCd, u === null ? null : u / (luminance * area)),
            { picture: pattern, 'cd/m²': luminance },
            {
              label: `Power per candela, ${pattern}`,
              note: `For ${plainNumber(luminance * area)} cd along the normal; the uncertainty is that of the power alone.`,
            },
          ),
        ]),
  ])
  const missing = rows.length === 0 ? ['Power at a stated luminance and picture.'] : []
  return { quantity: quantityOf('power', 'Power', ['power'], own, figures, missing), rows }
}

export interface WarmUpPart {
  readonly quantity: RecordQuantity
  readonly points: readonly { readonly minutes: number; readonly luminance: number }[]
}

export function warmUpPart(readings: readonly Reading[]): WarmUpPart {
  const reading = newest(readings, 'white-over-time')
  const points = (reading === undefined ? [] : rowsOf(reading))
    .map(([minutes = 0, luminance = 0]) => ({ minutes, luminance }))
    .sort((a, b) => a.minutes - b.minutes)
  const last = points.at(-1)
  const figures: RecordFigure[] = []
  const missing: string[] = []
  if (last === undefined || !(last.luminance > 0)) missing.push('White over the first half hour.')
  else {
    const off = ({ luminance }: { luminance: number }): number => Math.abs(luminance / last.luminance - 1)
    const settled = points.findIndex((_, i) => points.slice(i).every((point) => off(point) <= 0.01))
    const from = points[settled]
    if (from !== undefined && from !== last)
      figures.push({ label: 'Within 1 % of the end from', value: from.minutes, unit: 'min', u95: null, digits: 3 })
    const start = points[0]
    if (start !== undefined)
      figures.push({
        label: 'Start over end',
        value: (100 * start.luminance) / last.luminance,
        unit: '%',
        u95: null,
        digits: 3,
      })
    if (last.minutes < 20) missing.push('White up to at least 20 minutes.')
  }
  return {
    quantity: quantityOf('warm-up', 'White over time', ['white-over-time'], [reading], figures, missing),
    points,
  }
}
