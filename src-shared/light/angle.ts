/** Luminance over viewing angle. */
export interface AnglePoint {
  /** Degrees from the normal; negative to the left or down. */
  readonly degrees: number
  readonly luminance: number
}

export interface ViewingAngle {
  /** Luminance over that seen from the normal, in order of angle. */
  readonly relative: readonly { readonly degrees: number; readonly share: number }[]
  /** Angle on each side where luminance falls to half, between measured angles; null where none was measured below half. */
  readonly halfDegrees: { readonly negative: number | null; readonly positive: number | null }
}

/** Null unless the normal (0°) was measured, with light. Same angles are averaged. */
export function viewingAngle(points: readonly AnglePoint[]): ViewingAngle | null {
  const angles = [...new Set(points.map(({ degrees }) => degrees))].sort((a, b) => a - b)
  const mean = angles.map((degrees) => {
    const own = points.filter((point) => point.degrees === degrees)
    return { degrees, luminance: own.reduce((sum, { luminance }) => sum + luminance, 0) / own.length }
  })
  const normal = mean.find(({ degrees }) => degrees === 0)?.luminance
  if (normal === undefined || !(normal > 0)) return null
  const relative = mean.map(({ degrees, luminance }) => ({ degrees, share: luminance / normal }))
  const half = (side: readonly { readonly degrees: number; readonly share: number }[]): number | null => {
    const at = side.findIndex(({ share }) => share <= 0.5)
    const [a, b] = [side[at - 1], side[at]]
    if (a === undefined || b === undefined) return null
    return a.degrees + ((a.share - 0.5) / (a.share - b.share)) * (b.degrees - a.degrees)
  }
  return {
    relative,
    halfDegrees: {
      negative: half(relative.filter(({ degrees }) => degrees <= 0).sort((a, b) => b.degrees - a.degrees)),
      positive: half(relative.filter(({ degrees }) => degrees >= 0)),
    },
  }
}
