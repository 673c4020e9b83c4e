/** A display's record: every quantity beyond its transitions, made from readings; pure, redone whenever it is asked. */
import type { Ladder, Sweep } from '#shared/domain/capture.ts'
import { RECORD_KIND_IDS, rowsOf } from '#shared/domain/record-kinds.ts'
import type { Reading } from '#shared/domain/reading.ts'
import { judgePatches, type ColourResult, type WhiteChoice } from '#shared/colour/patches.ts'
import { GAMUT_IDS, GAMUTS, TARGETS, type TargetId } from '#shared/colour/targets.ts'
import { latencyPart, type LatencyPart } from './latency-part.ts'
import {
  anglePart,
  ladderPart,
  powerPart,
  uniformityPart,
  warmUpPart,
  type AnglePart,
  type LadderPart,
  type PowerPart,
  type UniformityPart,
  type WarmUpPart,
} from './light-part.ts'
import { quantityOf, type RecordFigure, type RecordQuantity } from './quantity.ts'
import { strobePart, type StrobePart } from './strobe-part.ts'
import { STROBE_KIND } from './strobe-points.ts'

export interface RecordChoice {
  readonly target: TargetId
  readonly white: WhiteChoice
}
export const DEFAULT_CHOICE: RecordChoice = { target: 'srgb', white: 'target' }

export interface ColourPart {
  readonly quantity: RecordQuantity
  /** Newest of each state of the display, such as before and after calibration, in the order they were taken. */
  readonly states: readonly { readonly label: string; readonly result: ColourResult }[]
}

export interface DisplayRecord {
  readonly choice: RecordChoice
  readonly latency: LatencyPart
  readonly strobe: StrobePart
  readonly ladder: LadderPart
  readonly warmUp: WarmUpPart
  readonly uniformity: UniformityPart
  readonly angle: AnglePart
  readonly power: PowerPart
  readonly colour: ColourPart
}

/** @param readings of one campaign in the order they were taken. @param ladder of its newest sweep with one, in volts. */
export function displayRecord(
  readings: readonly Reading[],
  ladder: Ladder | null,
  choice: RecordChoice,
): DisplayRecord {
  return {
    choice,
    latency: latencyPart(readings),
    strobe: strobePart(readings),
    ladder: ladderPart(readings, ladder),
    warmUp: warmUpPart(readings),
    uniformity: uniformityPart(readings),
    angle: anglePart(readings),
    power: powerPart(readings),
    colour: colourPart(readings, choice),
  }
}

/** In the order they are shown. */
export const quantitiesOf = (record: DisplayRecord): readonly RecordQuantity[] => [
  record.latency.quantity,
  record.ladder.quantity,
  record.colour.quantity,
  record.uniformity.quantity,
  record.angle.quantity,
  record.warmUp.quantity,
  record.power.quantity,
  record.strobe.quantity,
]

/** True for readings that the record is made of. */
export const isOfRecord = ({ kind }: Pick<Reading, 'kind'>): boolean =>
  kind === STROBE_KIND || RECORD_KIND_IDS.some((id) => id === kind)

function colourPart(readings: readonly Reading[], { target, white }: RecordChoice): ColourPart {
  const own = readings.filter((reading) => reading.kind === 'colour-patches' && !reading.hidden)
  const labels = [...new Set(own.map(({ quantity }) => quantity))]
  const newestOf = labels.map((label) => own.findLast(({ quantity }) => quantity === label))
  const states = newestOf.flatMap((reading) => {
    if (reading === undefined) return []
    const result = judgePatches(
      rowsOf(reading).map(([r = 0, g = 0, b = 0, x = 0, y = 0, z = 0]) => ({ rgb: [r, g, b], xyz: [x, y, z] })),
      target,
      white,
    )
    return result === null ? [] : [{ label: reading.quantity, result }]
  })
  const several = states.length > 1
  const figures = states.flatMap(({ label, result }) => colourFigures(result, several ? `${label}: ` : '', target))
  const missing: string[] = []
  const last = states.at(-1)?.result
  if (last === undefined)
    missing.push(
      own.length === 0 ? 'Colour patches: a grey scale, red, green, blue.' : 'White (255, 255, 255) among the patches.',
    )
  else {
    if (last.grey.length < 5) missing.push('A grey scale of at least five levels.')
    if (last.gamut === null) missing.push('Red, green and blue at 255, for the gamut.')
  }
  return { quantity: quantityOf('colour', 'Colour', ['colour-patches'], newestOf, figures, missing), states }
}

function colourFigures(result: ColourResult, before: string, target: TargetId): RecordFigure[] {
  const { label } = TARGETS[target]
  const figure = (name: string, value: number, unit: string, note?: string): RecordFigure => ({
    label: before === '' ? name : `${before}${name}`,
    value,
    unit,
    u95: null,
    ...(note === undefined ? {} : { note }),
  })
  const { grey } = result.de2000
  return [
    ...(result.whiteTemperature === null
      ? []
      : [
          figure(
            'White, correlated colour temperature',
            result.whiteTemperature.cctK,
            'K',
            `Duv ${result.whiteTemperature.duv >= 0 ? '+' : '−'}${Math.abs(result.whiteTemperature.duv).toFixed(4)}.`,
          ),
        ]),
    ...(grey === null
      ? []
      : [figure(`Grey scale, mean ΔE 2000 to ${label}`, grey.mean, '1', `Largest ${grey.max.toFixed(2)}.`)]),
    figure(
      `Patches, mean ΔE 2000 to ${label}`,
      result.de2000.all.mean,
      '1',
      `Largest ${result.de2000.all.max.toFixed(2)}, ${result.patches.length} patches.`,
    ),
    figure(
      `Patches, mean ΔE ITP to ${label}`,
      result.deItp.all.mean,
      '1',
      `Largest ${result.deItp.all.max.toFixed(2)}; absolute, no adaptation.`,
    ),
    ...(result.gamut === null
      ? []
      : [
          ...GAMUT_IDS.map((id) => {
            const { xy, uv, volume } = (result.gamut as NonNullable<typeof result.gamut>).of[id]
            return figure(
              `${GAMUTS[id].label} covered in u′v′`,
              100 * uv.covered,
              '%',
              `In xy ${(100 * xy.covered).toFixed(1)} %${volume === null ? '' : `, of the L*a*b* volume ${(100 * volume.covered).toFixed(1)} ± ${Math.max(0.1, 200 * volume.u).toFixed(1)} %`}. Overlap of the triangles.`,
            )
          }),
          figure(
            'Gamut volume in L*a*b*',
            result.gamut.labVolume,
            '1',
            'Additive model of the measured primaries, against their own white.',
          ),
        ]),
  ]
}

/** Ladder of the newest sweep that has one: luminance by the calibrated detector. Sweeps come oldest first. */
export const newestLadder = (sweeps: readonly Pick<Sweep, 'ladder'>[]): Ladder | null =>
  sweeps.findLast(({ ladder }) => ladder !== null)?.ladder ?? null
