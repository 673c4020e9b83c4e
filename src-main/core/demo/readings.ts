/** Invented records of the demo library's displays: made from a seed and plain models, marked as invented. */
import { seededRandom } from '#shared/domain/seeded-random.ts'
import { recordKind, seriesOf, type RecordKindId } from '#shared/domain/record-kinds.ts'
import { newReadingSchema, type NewReading } from '#shared/domain/reading.ts'
import { xyzOf, type Pair, type Xyz } from '#shared/colour/chromaticity.ts'
import { sharesOf, type Primaries } from '#shared/colour/gamut.ts'

const SOURCE = 'Slewlight simulation (invented data)'
const GREYS = Array.from({ length: 18 }, (_, i) => 15 * i)
const BLACK = 0.24
const WHITE = 262

interface Entry {
  readonly kind: RecordKindId
  readonly rows: readonly (readonly number[])[]
  readonly quantity?: string
  readonly place?: string
  readonly u?: number
}

export type DemoRecordState = 'begun' | 'complete'

export function demoReadings(campaignId: number, state: DemoRecordState | undefined, at: string): NewReading[] {
  const entries = state === undefined ? [] : { begun, complete }[state]()
  return entries.map(({ kind, rows, quantity, place = '', u }) =>
    newReadingSchema.parse({
      campaignId,
      kind,
      quantity: quantity ?? recordKind(kind).label,
      unit: recordKind(kind).unit,
      series: seriesOf(kind, rows),
      u: u ?? null,
      source: SOURCE,
      place,
      at,
    }),
  )
}

/** One reading of a meter, which puts the sweep's ladder in cd/m², and a few readings more. */
const begun = (): Entry[] => [
  { kind: 'detector-calibration', rows: [[231, 3.2, 0.01]], u: 4.6, place: 'centre' },
  { kind: 'uniformity', rows: grid(5, 231, 5), u: 2 },
]

function complete(): Entry[] {
  const before = { white: [0.3062, 0.3195] as Pair, gamma: [2.34, 2.2, 2.12] as const }
  const after = { white: [0.3129, 0.3292] as Pair, gamma: [2.21, 2.2, 2.2] as const }
  const noise = seededRandom(7)
  return [
    {
      kind: 'luminance-ladder',
      rows: GREYS.map((code) => [
        code,
        rounded(BLACK + (WHITE - BLACK) * (code / 255) ** 2.24 * (1 + 0.002 * (noise() - 0.5))),
      ]),
      u: 0.02,
      place: 'centre',
    },
    { kind: 'colour-patches', quantity: 'Before calibration', rows: patches(before.white, before.gamma), u: 0.05 },
    { kind: 'colour-patches', quantity: 'After calibration', rows: patches(after.white, after.gamma), u: 0.05 },
    { kind: 'uniformity', rows: grid(5, WHITE, 6), u: 1.5 },
    {
      kind: 'viewing-angle',
      rows: [-60, -45, -30, -15, 0, 15, 30, 45, 60].map((degrees) => [
        degrees,
        rounded(WHITE * Math.cos((degrees * Math.PI) / 180) ** (degrees < 0 ? 2.1 : 1.9)),
      ]),
      place: 'horizontal',
    },
    {
      kind: 'white-over-time',
      rows: [0, 1, 2, 3, 5, 8, 12, 16, 20, 25, 30, 40].map((minutes) => [
        minutes,
        rounded(WHITE * (1 - 0.075 * Math.exp(-minutes / 5))),
      ]),
    },
    { kind: 'power', rows: [[27.4, 251, 0.2009]], u: 0.2, place: 'white' },
    { kind: 'power', rows: [[14.1, 0.3, 0.2009]], u: 0.2, place: 'black' },
    {
      kind: 'strobe-by-place',
      rows: [
        [0.05, 1.01, 7.8, 12.1, 1.8],
        [0.5, 1.01, 7.8, 12.1, 9.6],
        [0.95, 1.02, 7.8, 12.2, 48.3],
      ],
      place: 'Gentle with strobing, 120 Hz',
    },
    {
      kind: 'flicker-by-brightness',
      rows: [
        [262, 1.2, 0.002, 960],
        [120, 61.5, 0.31, 960],
        [60, 94.1, 0.58, 960],
      ],
    },
  ]
}

const rounded = (value: number): number => Number(value.toPrecision(4))

function grid(side: number, white: number, seed: number): number[][] {
  const random = seededRandom(seed)
  return Array.from({ length: side * side }, (_, i) => {
    const [x, y] = [(i % side) / (side - 1) - 0.5, Math.floor(i / side) / (side - 1) - 0.5]
    return [rounded(white * (1 - 0.22 * (x * x + y * y) - 0.04 * x) * (1 + 0.008 * (random() - 0.5)))]
  })
}

/** Grey scale, primaries and a few mixtures of an additive display with these primaries. */
function patches(whiteXy: Pair, gamma: readonly [number, number, number]): number[][] {
  const primaries: Primaries = [xyzOf([0.676, 0.317]), xyzOf([0.268, 0.678]), xyzOf([0.151, 0.057])]
  const white = xyzOf(whiteXy, WHITE - BLACK)
  const scale = sharesOf(primaries, white) ?? [1, 1, 1]
  const black = xyzOf([0.29, 0.3], BLACK)
  const light = (rgb: readonly number[]): Xyz => {
    const shares = rgb.map((code, k) => (scale[k] as number) * (code / 255) ** (gamma[k] as number))
    return [0, 1, 2].map((i) =>
      primaries.reduce((sum, primary, k) => sum + (shares[k] as number) * (primary[i] as number), black[i] as number),
    ) as unknown as Xyz
  }
  const codes = [
    ...GREYS.map((grey) => [grey, grey, grey]),
    [255, 0, 0],
    [0, 255, 0],
    [0, 0, 255],
    [0, 255, 255],
    [255, 0, 255],
    [255, 255, 0],
    [191, 127, 105],
    [91, 122, 61],
    [60, 80, 160],
    [230, 160, 50],
  ]
  return codes.map((rgb) => [...rgb, ...light(rgb).map(rounded)])
}
