/** Published transfer functions between coded values and light. */

/** Light 0–1 of an sRGB value 0–1 (IEC 61966-2-1): V/12.92 up to 0.04045, else ((V + 0.055)/1.055)^2.4. */
export function srgbToLight(value: number): number {
  return value <= 0.04045 ? value / 12.92 : ((value + 0.055) / 1.055) ** 2.4
}

/** Inverse of `srgbToLight`; continues past 1. */
export function lightToSrgb(light: number): number {
  return light <= 0.0031308 ? light * 12.92 : 1.055 * light ** (1 / 2.4) - 0.055
}

/** Luminance of a BT.1886 display for a value 0–1: a·max(V + b, 0)^2.4, from its white and black luminance. */
export function bt1886Luminance(value: number, white: number, black: number): number {
  const high = white ** (1 / 2.4)
  const low = black ** (1 / 2.4)
  return (high - low) ** 2.4 * Math.max(0, value + low / (high - low)) ** 2.4
}
