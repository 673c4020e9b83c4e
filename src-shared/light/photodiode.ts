/** One reading of a luminance meter makes volts of the photodiode cd/m². */
export interface DetectorCalibration {
  /** cd/m² per volt above the dark level. */
  readonly scale: number
  /** Standard uncertainty of it. */
  readonly u: number
}

/**
 * k = L/(V − V_dark), u by propagation; holds for light of that spectrum only.
 * @returns null unless the light stands above the dark level.
 */
export function calibrateDetector(
  meter: { readonly value: number; readonly u: number },
  volts: number,
  darkVolts: number,
  uVolts: number,
): DetectorCalibration | null {
  const signal = volts - darkVolts
  if (!(signal > 0 && meter.value > 0)) return null
  const scale = meter.value / signal
  return { scale, u: scale * Math.sqrt((meter.u / meter.value) ** 2 + 2 * (uVolts / signal) ** 2) }
}

/** Luminance of a reading in volts with what the calibration and the noise leave uncertain. */
export function luminanceFromVolts(
  { scale, u }: DetectorCalibration,
  volts: number,
  darkVolts: number,
  uVolts: number,
): { readonly value: number; readonly u: number } {
  const signal = volts - darkVolts
  return { value: scale * signal, u: Math.hypot(signal * u, scale * Math.SQRT2 * uVolts) }
}
