/** How the light of the simulated display depends on where and from where it is seen; chosen, not measured from a product. */
import type { SimView } from '#shared/domain/sim-control.ts'

export const STRAIGHT: SimView = { x: 0.5, y: 0.5, degrees: 0, share: 1 }

/** Loss towards the corners, per square of the distance from the middle in widths and heights. */
const CORNERS = 0.22
/** Slope from left to right. */
const SLOPE = 0.04
/** Luminance follows this power of the cosine. */
const ANGLE_POWER = 1.9

/** Light over that of the middle seen from the normal in grey: (1 − 0.22·r² − 0.04·(x − ½))·cos^1.9 θ · share. */
export function viewShare({ x, y, degrees, share }: SimView): number {
  const [dx, dy] = [x - 0.5, y - 0.5]
  const place = 1 - CORNERS * (dx * dx + dy * dy) - SLOPE * dx
  return place * Math.cos((degrees * Math.PI) / 180) ** ANGLE_POWER * share
}
