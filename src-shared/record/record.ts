/** A display's record: every quantity beyond its transitions, made from readings; pure, redone whenever it is asked. */
import type { Ladder, Sweep } from '#shared/domain/capture.ts'
import { RECORD_KIND_IDS, rowsOf } from '#shared/domain/record-kinds.ts'
import type { Reading } from '#shared/domain/reading.ts'
import {
  judgePatches,
  patchNumbers,
  type ColourResult,
  type MeasuredPatch,
  type WhiteChoice,
} from '#shared/colour/patches.ts'
import { GAMUT_IDS, GAMUTS, TARGETS, type TargetId } from '#shared/colour/targets.ts'
import { lightIdOf } from './light-readings.ts'
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
import { spreadOf } from './draws.ts'
import { listedFigure, ownEstimate, type RecordFigure, type RecordValue } from './figures.ts'
import { quantityOf, type RecordQuantity } from './quantity.ts'
import { strobePart, type StrobePart } from './strobe-part.ts'
import { STROBE_KIND } from './strobe-points.ts'

export interface RecordChoice {
  readonly target: TargetId
  readonly white: WhiteChoice
}
export const DEFAULT_CHOICE: RecordChoice = { target: 'srgb', white: 'target' }

interface ColourPart {
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

/** The figures that displays are compared by, as far as the record has them. */
export const recordValues = (record: DisplayRecord): RecordValue[] =>
  quantitiesOf(record).flatMap(({ figures, readingIds }) =>
    figures.flatMap(({ compared }) => (compared === undefined ? [] : [{ ...compared, readingIds }])),
  )

/** True for readings that the record is made of. */
export const isOfRecord = ({ kind }: Pick<Reading, 'kind'>): boolean =>
  kind === STROBE_KIND || RECORD_KIND_IDS.some((id) => id === kind) || lightIdOf({ kind }) !== undefined

function colourPart(readings: readonly Reading[], { target, white }: RecordChoice): ColourPart {
  const own = readings.filter((reading) => reading.kind === 'colour-patches' && !reading.hidden)
  const labels = [...new Set(own.map(({ quantity }) => quantity))]
  const newestOf = labels.map((label) => own.findLast(({ quantity }) => quantity === label))
  const states = newestOf.flatMap((reading) => {
    if (reading === undefined) return []
    const patches = patchesOf(rowsOf(reading))
    const result = judgePatches(patches, target, white)
    return result === null ? [] : [{ label: reading.quantity, result, patches, u: reading.u }]
  })
  const figures = states.flatMap((state) => colourFigures(state, states.length > 1, { target, white }))
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

const patchesOf = (rows: readonly (readonly number[])[]): MeasuredPatch[] =>
  rows.map(([r = 0, g = 0, b = 0, x = 0, y = 0, z = 0]) => ({ rgb: [r, g, b], xyz: [x, y, z] }))

interface ColourState {
  readonly label: string
  readonly result: ColourResult
  readonly patches: readonly MeasuredPatch[]
  /** Standard uncertainty of each X, Y and Z, cd/m². */
  readonly u: number | null
}

/** Patches of the same codes count as the same set; so many with this sum of codes hardly are another. */
const setOf = (patches: readonly MeasuredPatch[]): string =>
  `${patches.length} patches, codes adding up to ${patches.reduce((sum, { rgb: [r, g, b] }) => sum + r + g + b, 0)}`

function colourFigures(state: ColourState, several: boolean, { target, white }: RecordChoice): RecordFigure[] {
  const { result, patches, u } = state
  const to = `to ${TARGETS[target].label}`
  const named = (label: string): string => (several ? `${state.label}: ${label}` : label)
  const spreads = spreadOf(
    patches.flatMap(({ xyz }) => [...xyz]),
    u,
    (drawn) =>
      patchNumbers(
        patches.map(({ rgb }, i) => ({ rgb, xyz: [drawn[3 * i] ?? 0, drawn[3 * i + 1] ?? 0, drawn[3 * i + 2] ?? 0] })),
        target,
        white,
      ),
  )
  const conditions = {
    state: state.label,
    target: TARGETS[target].label,
    white: `white of the ${white}`,
    patches: setOf(patches),
  }
  const { grey } = result.de2000
  const { whiteTemperature } = result
  const differences = (['de2000', 'deItp'] as const).flatMap((metric, i) =>
    (['mean', 'max'] as const).map((which, j) => {
      const name = metric === 'de2000' ? '2000' : 'ITP'
      return listedFigure(
        `${metric === 'de2000' ? 'de2000' : 'deitp'}_${which}`,
        ownEstimate(result[metric].all[which], spreads[2 * i + j]),
        conditions,
        {
          label: named(`Patches, ${which === 'mean' ? 'mean' : 'largest'} ΔE ${name} ${to}`),
          digits: 3,
          note:
            which === 'max'
              ? `At RGB ${farthest(result, metric).join(', ')}.`
              : `${result.patches.length} patches${metric === 'deItp' ? '; absolute, no adaptation.' : '.'}`,
        },
      )
    }),
  )
  return [
    ...(whiteTemperature === null
      ? []
      : [
          {
            label: named('White, correlated colour temperature'),
            value: whiteTemperature.cctK,
            unit: 'K',
            u95: null,
            note: `Duv ${whiteTemperature.duv >= 0 ? '+' : '−'}${Math.abs(whiteTemperature.duv).toFixed(4)}.`,
          },
        ]),
    ...(grey === null
      ? []
      : [
          {
            label: named(`Grey scale, mean ΔE 2000 ${to}`),
            value: grey.mean,
            unit: '1',
            u95: null,
            digits: 3,
            note: `Largest ${grey.max.toFixed(2)}.`,
          },
        ]),
    ...differences,
    ...gamutFigures(state, spreads.slice(4), named),
  ]
}

/** The patch with the largest difference. */
const farthest = ({ patches }: ColourResult, metric: 'de2000' | 'deItp') =>
  patches.reduce((worst, patch) => (patch[metric] > worst[metric] ? patch : worst)).rgb

const inThousands = (u: number | null | undefined): number | null => (u == null ? null : u / 1000)
const plainWhite = (white: ColourResult['white']): number => Number(white[1].toPrecision(3))

function gamutFigures(
  { label, result: { gamut, white } }: ColourState,
  spreads: readonly (number | null)[],
  named: (label: string) => string,
): RecordFigure[] {
  if (gamut === null) return []
  return [
    ...GAMUT_IDS.map((id, i) => {
      const { xy, uv, volume } = gamut.of[id]
      return listedFigure(
        `coverage_${id}`,
        ownEstimate(100 * uv.covered, spreads[i]),
        { state: label },
        {
          label: named(`${GAMUTS[id].label} covered in u′v′`),
          digits: 3,
          note: `In xy ${(100 * xy.covered).toFixed(1)} %${volume === null ? '' : `, of the L*a*b* volume ${(100 * volume.covered).toFixed(1)} ± ${Math.max(0.1, 200 * volume.u).toFixed(1)} %`}. Overlap of the triangles.`,
        },
      )
    }),
    // In thousands: no volume is known to single steps.
    listedFigure(
      'volume_lab',
      ownEstimate(gamut.labVolume / 1000, inThousands(spreads[GAMUT_IDS.length])),
      { state: label },
      {
        label: named('Gamut volume in L*a*b*'),
        note: 'Additive model of the measured primaries, against their own white.',
      },
    ),
    listedFigure(
      'volume_itp',
      ownEstimate(gamut.itpVolume / 1000, inThousands(spreads[GAMUT_IDS.length + 1])),
      { state: label, 'cd/m²': plainWhite(white) },
      {
        label: named('Gamut volume in ICtCp'),
        note: `Steps of ΔE ITP cubed (I, Ct/2, Cp of BT.2100 times 720), additive model, at ${plainWhite(white)} cd/m².`,
      },
    ),
  ]
}

/** Ladder of the newest sweep that has one: luminance by the calibrated detector. Sweeps come oldest first. */
export const newestLadder = (sweeps: readonly Pick<Sweep, 'ladder'>[]): Ladder | null =>
  sweeps.findLast(({ ladder }) => ladder !== null)?.ladder ?? null
