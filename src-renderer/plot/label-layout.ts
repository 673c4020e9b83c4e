/** Places text boxes beside their anchors so that none covers another or leaves the plot. Units are free (pixels). */
export interface Box {
  readonly left: number
  readonly top: number
  readonly width: number
  readonly height: number
}

export interface LabelRequest {
  readonly x: number
  readonly y: number
  readonly width: number
  readonly height: number
  /** Sides to try, best first; `top-…` hugs the top edge of the bounds. */
  readonly sides: readonly ('right' | 'left' | 'above' | 'below' | 'top-right' | 'top-left')[]
}

/** Label heights a label may move along its side, and down from the top edge. */
const SIDE_ROWS = 3
const TOP_ROWS = 6

function overlaps(a: Box, b: Box): boolean {
  return a.left < b.left + b.width && b.left < a.left + a.width && a.top < b.top + b.height && b.top < a.top + a.height
}

function inside(box: Box, bounds: Box): boolean {
  return (
    box.left >= bounds.left &&
    box.top >= bounds.top &&
    box.left + box.width <= bounds.left + bounds.width &&
    box.top + box.height <= bounds.top + bounds.height
  )
}

/**
 * Boxes in the order of the requests; null where a label finds no free place (its number is printed elsewhere too).
 * Earlier requests have the first choice; no label covers an obstacle; a label moves at most a few label heights away from its side.
 */
export function placeLabels(
  requests: readonly LabelRequest[],
  bounds: Box,
  gap: number,
  obstacles: readonly Box[] = [],
): readonly (Box | null)[] {
  const taken: Box[] = [...obstacles]
  return requests.map((request) => {
    for (let row = 0; row < TOP_ROWS; row += 1) {
      for (const side of request.sides) {
        if (row >= SIDE_ROWS && !side.startsWith('top')) continue
        const box = candidate(request, side, bounds, gap, row)
        if (!inside(box, bounds) || taken.some((other) => overlaps(box, other))) continue
        taken.push(box)
        return box
      }
    }
    return null
  })
}

function candidate(
  { x, y, width, height }: LabelRequest,
  side: LabelRequest['sides'][number],
  bounds: Box,
  gap: number,
  row: number,
): Box {
  const shift = row * (height + 1)
  if (side === 'right') return { left: x + gap, top: y - height / 2 + shift, width, height }
  if (side === 'left') return { left: x - gap - width, top: y - height / 2 - shift, width, height }
  if (side === 'above') return { left: x - width / 2, top: y - gap - height - shift, width, height }
  if (side === 'below') return { left: x - width / 2, top: y + gap + shift, width, height }
  return { left: side === 'top-right' ? x + gap : x - gap - width, top: bounds.top + shift, width, height }
}
