import { xyOf, xyzOf, type Pair, type Xyz } from '#shared/colour/chromaticity.ts'
import { ciede2000, deltaEItp, labOf } from '#shared/colour/difference.ts'
import {
  coverage,
  itpVolume,
  labVolume,
  triangleIn,
  type Diagram,
  type Primaries,
  type Triangle,
} from '#shared/colour/gamut.ts'
import { tristimulus } from '#shared/colour/observer.ts'
import { bt1886, gamutPrimaries, targetXyz, type GamutId } from '#shared/colour/targets.ts'
import { colourTemperature, planckXy } from '#shared/colour/temperature.ts'
import { ICTCP, to, XYZ_ABS_D65 } from 'colorjs.io/fn'
import { ILLUMINANT_A, ILLUMINANT_D65, WAVELENGTHS } from './illuminants.ts'
import type { CheckRow } from './row.ts'

const SHARMA = {
  source: 'Sharma, Wu, Dalal, Color Res. Appl. 30 (2005) 21, table 1',
  provenance: 'read',
} as const
const BT2124 = { source: 'ICtCp pairs of ITU-R BT.2124 as tested in colour-science', provenance: 'read' } as const
const LOCUS = {
  source: 'Planck’s law with the 1 nm observer table, computed apart from this program',
  provenance: 'computed',
} as const
const PRIMARIES = { source: 'published primaries, areas by closed form', provenance: 'computed' } as const

const SPECTRA = [
  ['A', ILLUMINANT_A, 0.44758, 0.40745],
  ['D65', ILLUMINANT_D65, 0.31272, 0.32903],
] as const

/** L*, a*, b* of two colours and their CIEDE2000. */
const SHARMA_PAIRS: readonly (readonly [number, number, number, number, number, number, number])[] = [
  [50, 2.6772, -79.7751, 50, 0, -82.7485, 2.0425],
  [50, 3.1571, -77.2803, 50, 0, -82.7485, 2.8615],
  [50, 2.8361, -74.02, 50, 0, -82.7485, 3.4412],
  [50, -1.3802, -84.2814, 50, 0, -82.7485, 1],
  [50, -1.1848, -84.8006, 50, 0, -82.7485, 1],
  [50, -0.9009, -85.5211, 50, 0, -82.7485, 1],
  [50, 0, 0, 50, -1, 2, 2.3669],
  [50, -1, 2, 50, 0, 0, 2.3669],
  [50, 2.49, -0.001, 50, -2.49, 0.0009, 7.1792],
  [50, 2.49, -0.001, 50, -2.49, 0.001, 7.1792],
  [50, 2.49, -0.001, 50, -2.49, 0.0011, 7.2195],
  [50, 2.49, -0.001, 50, -2.49, 0.0012, 7.2195],
  [50, -0.001, 2.49, 50, 0.0009, -2.49, 4.8045],
  [50, -0.001, 2.49, 50, 0.001, -2.49, 4.8045],
  [50, -0.001, 2.49, 50, 0.0011, -2.49, 4.7461],
  [50, 2.5, 0, 50, 0, -2.5, 4.3065],
  [50, 2.5, 0, 73, 25, -18, 27.1492],
  [50, 2.5, 0, 61, -5, 29, 22.8977],
  [50, 2.5, 0, 56, -27, -3, 31.903],
  [50, 2.5, 0, 58, 24, 15, 19.4535],
  [50, 2.5, 0, 50, 3.1736, 0.5854, 1],
  [50, 2.5, 0, 50, 3.2972, 0, 1],
  [50, 2.5, 0, 50, 1.8634, 0.5757, 1],
  [50, 2.5, 0, 50, 3.2592, 0.335, 1],
  [60.2574, -34.0099, 36.2677, 60.4626, -34.1751, 39.4387, 1.2644],
  [63.0109, -31.0961, -5.8663, 62.8187, -29.7946, -4.0864, 1.263],
  [61.2901, 3.7196, -5.3901, 61.4292, 2.248, -4.962, 1.8731],
  [35.0831, -44.1164, 3.7933, 35.0232, -40.0716, 1.5901, 1.8645],
  [22.7233, 20.0904, -46.694, 23.0331, 14.973, -42.5619, 2.0373],
  [36.4612, 47.858, 18.3852, 36.2715, 50.5065, 21.2231, 1.4146],
  [90.8027, -2.0831, 1.441, 91.1528, -1.6435, 0.0447, 1.4441],
  [90.9257, -0.5406, -0.9208, 88.6381, -0.8985, -0.7239, 1.5381],
  [6.7747, -0.2908, -2.4247, 5.8714, -0.0985, -2.2286, 0.6377],
  [2.0776, 0.0795, -1.135, 0.9033, -0.0636, -0.5514, 0.9082],
]

type Itp = readonly [number, number, number]
const ITP_PAIRS: readonly (readonly [patch: string, Itp, Itp, number])[] = [
  [
    'dark skin',
    [0.4885468072, -0.04739350675, 0.07475401302],
    [0.4899203231, -0.04567508203, 0.07361341775],
    1.426572247,
  ],
  ['white', [0.7538438727, 0, -6.25e-16], [0.7538912244, 0.001930922514, -0.0003599955951], 0.7426668055],
  ['black', [0.1596179061, 0, -1.21e-16], [0.1603575152, 0.02881444889, -0.009908665843], 12.60096264],
  ['red', [0.5965650331, -0.2083210482, 0.3699729716], [0.596263079, -0.1629742033, 0.3617767026], 17.36012552],
  ['green', [0.7055787513, -0.4063731514, -0.07278767382], [0.7046946082, -0.3771037586, -0.07141626753], 10.60227327],
  ['blue', [0.5180652611, 0.2932420978, -0.1873112695], [0.5167090868, 0.298191609, -0.1824609953], 4.040270489],
  ['cyan', [0.7223275939, -0.01290632441, -0.1139004748], [0.7215329274, -0.007863821961, -0.1106683944], 3.00633812],
  ['magenta', [0.6401125212, 0.280225698, 0.1665590804], [0.640473651, 0.2819981563, 0.1654050172], 1.07944277],
  ['yellow', [0.7413041405, -0.3638807621, 0.04959414794], [0.7412815181, -0.3299076141, 0.04545287368], 12.5885645],
]

function absoluteXyz(coords: Itp): Xyz {
  const made = to({ space: ICTCP, coords: [...coords], alpha: 1 }, XYZ_ABS_D65).coords
  return [made[0] ?? Number.NaN, made[1] ?? Number.NaN, made[2] ?? Number.NaN]
}

const greyAt = (luminance: number): Xyz => xyzOf([0.3127, 0.329], luminance)

const TEMPERATURES: readonly (readonly [name: string, Pair, cct: number, duv: number])[] = [
  ['D65', [0.3127, 0.329], 6504.34, 0.003207],
  ['D50', [0.3457, 0.3585], 5000.73, 0.003193],
  ['D55', [0.33242, 0.34743], 5502.82, 0.003254],
  ['D75', [0.29902, 0.31485], 7506.29, 0.003129],
  ['A', [0.44757, 0.40745], 2855.68, 0.000004],
  ['E', [1 / 3, 1 / 3], 5455.49, -0.004423],
  ['a greenish white', [0.314, 0.351], 6302.8, 0.013437],
  ['9300 K', [0.2831, 0.2971], 9299.87, 0.003112],
]
const LOCI: readonly (readonly [kelvin: number, x: number, y: number])[] = [
  [2000, 0.526681, 0.413296],
  [2856, 0.447539, 0.407429],
  [3000, 0.436934, 0.404075],
  [4000, 0.380442, 0.376749],
  [5000, 0.345103, 0.35161],
  [6500, 0.313528, 0.32363],
  [8000, 0.295188, 0.304767],
  [10_000, 0.280634, 0.288289],
]

const rgbOf = (id: GamutId): Primaries => {
  const [r, g, b] = gamutPrimaries(id)
  return [r, g, b]
}
const NTSC_1953: readonly Pair[] = [
  [0.67, 0.33],
  [0.21, 0.71],
  [0.14, 0.08],
]
/** sRGB's red and blue with a green of (0.21, 0.71): sticks out of Display P3 without being larger. */
const WIDE_GREEN: readonly Pair[] = [
  [0.64, 0.33],
  [0.21, 0.71],
  [0.15, 0.06],
]
const triangle = (primaries: readonly Pair[], diagram: Diagram): Triangle =>
  triangleIn(primaries.map((xy) => xyzOf(xy)) as unknown as Primaries, diagram) as Triangle
const corners = (id: GamutId, diagram: Diagram): Triangle => triangleIn(rgbOf(id), diagram) as Triangle

const OVERLAPS: readonly (readonly [
  name: string,
  Diagram,
  (d: Diagram) => Triangle,
  (d: Diagram) => Triangle,
  ratio: number,
  covered: number,
])[] = [
  ['sRGB of Display P3', 'xy', (d) => corners('srgb', d), (d) => corners('display-p3', d), 73.7171, 73.7171],
  ['sRGB of Display P3', 'uv', (d) => corners('srgb', d), (d) => corners('display-p3', d), 79.6412, 79.6412],
  ['sRGB of BT.2020', 'xy', (d) => corners('srgb', d), (d) => corners('bt2020', d), 52.8871, 52.8871],
  ['sRGB of BT.2020', 'uv', (d) => corners('srgb', d), (d) => corners('bt2020', d), 58.031, 58.031],
  ['Display P3 of BT.2020', 'xy', (d) => corners('display-p3', d), (d) => corners('bt2020', d), 71.7433, 71.729],
  ['Display P3 of BT.2020', 'uv', (d) => corners('display-p3', d), (d) => corners('bt2020', d), 72.8656, 72.8492],
  ['sRGB of NTSC 1953', 'xy', (d) => corners('srgb', d), (d) => triangle(NTSC_1953, d), 70.8281, 68.4556],
  ['sRGB of NTSC 1953', 'uv', (d) => corners('srgb', d), (d) => triangle(NTSC_1953, d), 87.19, 78.4364],
  [
    'green (.21, .71) of Display P3',
    'xy',
    (d) => triangle(WIDE_GREEN, d),
    (d) => corners('display-p3', d),
    99.4408,
    87.7614,
  ],
  [
    'green (.21, .71) of Display P3',
    'uv',
    (d) => triangle(WIDE_GREEN, d),
    (d) => corners('display-p3', d),
    92.9142,
    86.9903,
  ],
  ['Display P3 of sRGB', 'xy', (d) => corners('display-p3', d), (d) => corners('srgb', d), 135.6537, 100],
  ['Display P3 of sRGB', 'uv', (d) => corners('display-p3', d), (d) => corners('srgb', d), 125.5632, 100],
]

export const COLOUR_ROWS: readonly CheckRow[] = [
  ...(
    [
      [0.1, 1.0637856],
      [0.25, 5.2184973],
      [0.5, 21.6049112],
      [0.75, 52.4208324],
    ] as const
  ).map(([value, expected]): CheckRow => ({
    source: 'ITU-R BT.1886, closed form',
    provenance: 'computed',
    id: `50 target ${value}`,
    quantity: `Light a BT.1886 target asks for at ${value}, white 100, black 0.1 cd/m²`,
    unit: 'cd/m²',
    expected,
    tolerance: 1e-6,
    kind: 'absolute',
    got: () => bt1886(value, 100, 0.1),
  })),
  {
    source: 'IEC 61966-2-1',
    provenance: 'computed',
    id: '49 target',
    quantity: 'Light an sRGB target asks for at code 128, white 1 cd/m²',
    unit: '1',
    expected: 0.2158605,
    tolerance: 1e-7,
    kind: 'absolute',
    got: () => targetXyz('srgb', [128 / 255, 128 / 255, 128 / 255], 1, 0)[1],
  },
  ...SHARMA_PAIRS.map(([l1, a1, b1, l2, a2, b2, expected], i): CheckRow => ({
    ...SHARMA,
    id: `51 pair ${i + 1}`,
    quantity: `CIEDE2000, pair ${i + 1}`,
    unit: '1',
    expected,
    tolerance: 1e-4,
    kind: 'absolute',
    got: () => ciede2000([l1, a1, b1], [l2, a2, b2]),
  })),
  ...ITP_PAIRS.map(([patch, a, b, expected]): CheckRow => ({
    ...BT2124,
    id: `52 ${patch}`,
    quantity: `ΔE ITP, ${patch}`,
    unit: '1',
    expected,
    tolerance: 1e-4,
    kind: 'absolute',
    got: () => deltaEItp(absoluteXyz(a), absoluteXyz(b)),
  })),
  ...(
    [
      [100, 101, 0.719269],
      [100, 110, 6.909213],
      [1, 1.1, 3.537846],
    ] as const
  ).map(([from, to_, expected]): CheckRow => ({
    source: 'BT.2100 and BT.2124 by closed form',
    provenance: 'computed',
    id: `53 grey ${from} to ${to_}`,
    quantity: `ΔE ITP of greys, ${from} and ${to_} cd/m²`,
    unit: '1',
    expected,
    tolerance: 1e-4,
    kind: 'absolute',
    got: () => deltaEItp(greyAt(from), greyAt(to_)),
  })),
  {
    source: 'Ohno 2013 as tested in colour-science; depends on the spacing of tables',
    provenance: 'read',
    id: '55 CCT',
    quantity: 'Correlated colour temperature of u .1978, v .3122',
    unit: 'K',
    expected: 6507.475,
    tolerance: 1,
    kind: 'absolute',
    got: () => colourTemperature(xyOf1960(0.1978, 0.3122))?.cctK ?? null,
  },
  {
    source: 'Ohno 2013 as tested in colour-science; depends on the spacing of tables',
    provenance: 'read',
    id: '55 Duv',
    quantity: 'Duv of u .1978, v .3122',
    unit: '1',
    expected: 0.0032233,
    tolerance: 1e-5,
    kind: 'absolute',
    got: () => colourTemperature(xyOf1960(0.1978, 0.3122))?.duv ?? null,
  },
  ...TEMPERATURES.flatMap(([name, xy, cct, duv]): CheckRow[] => [
    {
      ...LOCUS,
      id: `55 ${name} CCT`,
      quantity: `Correlated colour temperature of ${name}`,
      unit: 'K',
      expected: cct,
      tolerance: 0.5,
      kind: 'absolute',
      got: () => colourTemperature(xy)?.cctK ?? null,
    },
    {
      ...LOCUS,
      id: `55 ${name} Duv`,
      quantity: `Duv of ${name}`,
      unit: '1',
      expected: duv,
      tolerance: 5e-6,
      kind: 'absolute',
      got: () => colourTemperature(xy)?.duv ?? null,
    },
  ]),
  ...LOCI.flatMap(([kelvin, x, y]): CheckRow[] =>
    ([x, y] as const).map((expected, k) => ({
      ...LOCUS,
      id: `55 Planck ${kelvin} ${k === 0 ? 'x' : 'y'}`,
      quantity: `Planck radiator at ${kelvin} K, ${k === 0 ? 'x' : 'y'}`,
      unit: '1',
      expected,
      tolerance: 2e-6,
      kind: 'absolute' as const,
      got: () => planckXy(kelvin)[k as 0 | 1],
    })),
  ),
  ...OVERLAPS.flatMap(([name, diagram, gamut, target, ratio, covered]): CheckRow[] => [
    {
      ...PRIMARIES,
      id: `56 ${name} ${diagram} area`,
      quantity: `Area ratio, ${name}, ${diagram === 'xy' ? 'x, y' : 'u′, v′'}`,
      unit: '%',
      expected: ratio,
      tolerance: 1e-3,
      kind: 'absolute',
      got: () => 100 * coverage(gamut(diagram), target(diagram)).areaRatio,
    },
    {
      ...PRIMARIES,
      id: `56 ${name} ${diagram} covered`,
      quantity: `Coverage, ${name}, ${diagram === 'xy' ? 'x, y' : 'u′, v′'}`,
      unit: '%',
      expected: covered,
      tolerance: 1e-3,
      kind: 'absolute',
      got: () => 100 * coverage(gamut(diagram), target(diagram)).covered,
    },
  ]),
  {
    source: 'surface of the solid by the divergence theorem, computed apart from this program',
    provenance: 'computed',
    id: '56 volume',
    quantity: 'Volume of sRGB in L*a*b*, D65 white',
    unit: '1',
    expected: 820_293,
    tolerance: 1e-4,
    kind: 'relative',
    got: () => labVolume(rgbOf('srgb'), 128),
  },
  ...SPECTRA.flatMap(([name, spectrum, x, y]): CheckRow[] =>
    ([x, y] as const).map((expected, k) => ({
      source: 'CIE 15:2004, table T.3 (chromaticity of standard illuminants, 2°)',
      provenance: 'from memory' as const,
      id: `55 spectrum ${name} ${k === 0 ? 'x' : 'y'}`,
      quantity: `${k === 0 ? 'x' : 'y'} of the spectrum of illuminant ${name}, every 5 nm`,
      unit: '1',
      expected,
      tolerance: 3e-5,
      kind: 'absolute' as const,
      got: () => xyOf(tristimulus(WAVELENGTHS, spectrum))?.[k as 0 | 1] ?? null,
    })),
  ),
  {
    source: 'definition of the candela as CIE 15 rounds it: 683 lm/W where ȳ is 1',
    provenance: 'from memory',
    id: '55 line 555',
    quantity: 'Luminance of 1 W/(m²·sr) at 555 nm',
    unit: 'cd/m²',
    expected: 683,
    tolerance: 1e-4,
    kind: 'relative',
    got: () => tristimulus([554, 555, 556], [0, 1, 0])[1],
  },
  ...(
    [
      ['sRGB, white 100 cd/m²', 'srgb', 100, 5_370_919.5],
      ['sRGB, white 1000 cd/m²', 'srgb', 1000, 12_867_088],
      ['Display P3, white 100 cd/m²', 'display-p3', 100, 7_595_294],
    ] as const
  ).map(([name, id, white, expected]): CheckRow => ({
    source: 'integral of the Jacobian’s determinant over the RGB cube, Gauss–Legendre of 180³ points, numpy',
    provenance: 'computed',
    id: `56 volume ITP ${name}`,
    quantity: `Volume in I, T, P × 720 of ${name}`,
    unit: '1',
    expected,
    tolerance: 1e-4,
    kind: 'relative',
    got: () => itpVolume(litPrimaries(id, white), 128),
  })),
  {
    source: 'equal-energy spectrum: x̄, ȳ, z̄ have equal areas',
    provenance: 'computed',
    id: '55 equal energy',
    quantity: 'x of an equal-energy spectrum',
    unit: '1',
    expected: 1 / 3,
    tolerance: 2e-5,
    kind: 'absolute',
    got: () => xyOf(tristimulus([360, 830], [1, 1]))?.[0] ?? null,
  },
  {
    source: 'CIE 1976 L*, closed form',
    provenance: 'computed',
    id: '51 lightness',
    quantity: 'L* of 18 % of white',
    unit: '1',
    expected: 49.496,
    tolerance: 1e-3,
    kind: 'absolute',
    got: () => labOf(greyAt(18), greyAt(100))[0],
  },
]

function litPrimaries(id: 'srgb' | 'display-p3', white: number): Primaries {
  const [r, g, b] = gamutPrimaries(id).map(([x, y, z]) => [x * white, y * white, z * white] as const)
  return [r, g, b] as Primaries
}

/** x, y of CIE 1960 u, v. */
function xyOf1960(u: number, v: number): Pair {
  const d = 2 * u - 8 * v + 4
  return [(3 * u) / d, (2 * v) / d]
}
