/** Power against the light it makes. */
export interface Efficiency {
  /** Luminous intensity along the normal: mean luminance times area, cd. */
  readonly intensityCd: number
  readonly wattsPerCd: number
}

/** From W, mean luminance in cd/m² over the picture and its area in m²; null unless all are above 0. */
export function efficiency(watts: number, luminance: number, areaM2: number): Efficiency | null {
  if (!(watts > 0 && luminance > 0 && areaM2 > 0)) return null
  const intensityCd = luminance * areaM2
  return { intensityCd, wattsPerCd: watts / intensityCd }
}
