/** Spectra of CIE standard illuminants as the standard defines them, for checking what is made of a spectrum. */

/** Every 5 nm from 360 to 830 nm. */
export const WAVELENGTHS = Array.from({ length: 95 }, (_, i) => 360 + 5 * i)

/** Illuminant A (ISO/CIE 11664-2, 4.1): Planckian, 2848 K with c2 = 1.435e-2 m·K, 100 at 560 nm. */
export const ILLUMINANT_A = WAVELENGTHS.map(
  (nm) => 100 * (560 / nm) ** 5 * (Math.expm1(1.435e7 / (2848 * 560)) / Math.expm1(1.435e7 / (2848 * nm))),
)

/** Components of daylight, every 10 nm from 360 nm; linear between (CIE 15, table T.2, by Wyszecki and Stiles pp. 145–146). */
// prettier-ignore
const S0 = [61.5, 68.8, 63.4, 65.8, 94.8, 104.8, 105.9, 96.8, 113.9, 125.6, 125.5, 121.3, 121.3, 113.5, 113.1, 110.8, 106.5, 108.8, 105.3, 104.4, 100, 96, 95.1, 89.1, 90.5, 90.3, 88.4, 84, 85.1, 81.9, 82.6, 84.9, 81.3, 71.9, 74.3, 76.4, 63.3, 71.7, 77, 65.2, 47.7, 68.6, 65, 66, 61, 53.3, 58.9, 61.9]
// prettier-ignore
const S1 = [38, 42.4, 38.5, 35, 43.4, 46.3, 43.9, 37.1, 36.7, 35.9, 32.6, 27.9, 24.3, 20.1, 16.2, 13.2, 8.6, 6.1, 4.2, 1.9, 0, -1.6, -3.5, -3.5, -5.8, -7.2, -8.6, -9.5, -10.9, -10.7, -12, -14, -13.6, -12, -13.3, -12.9, -10.6, -11.6, -12.2, -10.2, -7.8, -11.2, -10.4, -10.6, -9.7, -8.3, -9.3, -9.8]
// prettier-ignore
const S2 = [5.3, 6.1, 3, 1.2, -1.1, -0.5, -0.7, -1.2, -2.6, -2.9, -2.8, -2.6, -2.6, -1.8, -1.5, -1.3, -1.2, -1, -0.5, -0.3, 0, 0.2, 0.5, 2.1, 3.2, 4.1, 4.7, 5.1, 6.7, 7.3, 8.6, 9.8, 10.2, 8.3, 9.6, 8.5, 7, 7.6, 8, 6.7, 5.2, 7.4, 6.8, 7, 6.4, 5.5, 6.1, 6.5]

/**
 * Illuminant D65 by the formula of CIE 15, its factors rounded to three decimals: daylight of 6500 K as of before c2
 * changed from 1.4380e-2 to 1.4388e-2 m·K. Gives the tabled 49.9755 at 380, 82.7549 at 400 and 117.008 at 450 nm.
 */
export const ILLUMINANT_D65 = daylight((6500 * 1.4388) / 1.438)

/** @param kelvin 4000 to 7000. */
function daylight(kelvin: number): number[] {
  const x = 0.244063 + 0.09911e3 / kelvin + 2.9678e6 / kelvin ** 2 - 4.607e9 / kelvin ** 3
  const y = -3 * x ** 2 + 2.87 * x - 0.275
  const below = 0.0241 + 0.2562 * x - 0.7341 * y
  const m1 = Number(((-1.3515 - 1.7703 * x + 5.9114 * y) / below).toFixed(3))
  const m2 = Number(((0.03 - 31.4424 * x + 30.0717 * y) / below).toFixed(3))
  const at = (table: readonly number[], nm: number): number => {
    const k = (nm - 360) / 10
    const [low, high] = [table[Math.floor(k)] as number, table[Math.ceil(k)] as number]
    return low + (high - low) * (k - Math.floor(k))
  }
  return WAVELENGTHS.map((nm) => at(S0, nm) + m1 * at(S1, nm) + m2 * at(S2, nm))
}
