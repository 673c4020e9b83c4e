/** Marks a person can move, as one list: their instants, names and places in an override. Times in s from the first sample. */
import type { Landmarks } from '#shared/domain/result.ts'
import type { Override } from '#shared/domain/views.ts'

export const MARK_IDS = [
  'beforeStart',
  'beforeEnd',
  'afterStart',
  'afterEnd',
  'crossLow',
  'crossHigh',
  'spanStart',
  'spanEnd',
] as const
export type MarkId = (typeof MARK_IDS)[number]

export interface MarkGroup {
  readonly key: keyof Override
  readonly label: string
  readonly marks: readonly { readonly id: MarkId; readonly label: string; readonly short: string }[]
}

export const MARK_GROUPS: readonly MarkGroup[] = [
  {
    key: 'beforeWindow',
    label: 'Window before',
    marks: [
      { id: 'beforeStart', label: 'Start of the window before', short: '[b' },
      { id: 'beforeEnd', label: 'End of the window before', short: 'b]' },
    ],
  },
  {
    key: 'afterWindow',
    label: 'Window after',
    marks: [
      { id: 'afterStart', label: 'Start of the window after', short: '[a' },
      { id: 'afterEnd', label: 'End of the window after', short: 'a]' },
    ],
  },
  {
    key: 'crossLowS',
    label: 'First crossing',
    marks: [{ id: 'crossLow', label: 'First reference crossing', short: '1' }],
  },
  {
    key: 'crossHighS',
    label: 'Second crossing',
    marks: [{ id: 'crossHigh', label: 'Second reference crossing', short: '2' }],
  },
  {
    key: 'span',
    label: 'Span',
    marks: [
      { id: 'spanStart', label: 'Start of the analysed span', short: '[s' },
      { id: 'spanEnd', label: 'End of the analysed span', short: 's]' },
    ],
  },
]

type Pair = readonly [number, number]

/** Where each mark is: moved by hand, else where the machine put it; null where there is none. */
export function markTimes(
  override: Override,
  landmarks: Landmarks | null,
  recordS: number,
): Readonly<Record<MarkId, number | null>> {
  const before: Pair | null = override.beforeWindow ?? landmarks?.beforeWindow ?? null
  const after: Pair | null = override.afterWindow ?? landmarks?.afterWindow ?? null
  const span: Pair = override.span ?? [0, recordS]
  return {
    beforeStart: before?.[0] ?? null,
    beforeEnd: before?.[1] ?? null,
    afterStart: after?.[0] ?? null,
    afterEnd: after?.[1] ?? null,
    crossLow: override.crossLowS ?? landmarks?.crossLowS ?? null,
    crossHigh: override.crossHighS ?? landmarks?.crossHighS ?? null,
    spanStart: span[0],
    spanEnd: span[1],
  }
}

/**
 * The override with one mark moved to an instant. The two ends of a window push each other and never cross; `leastS` is
 * the shortest window, and everything stays within the record.
 */
export function moveMark(
  override: Override,
  landmarks: Landmarks | null,
  id: MarkId,
  toS: number,
  recordS: number,
  leastS: number,
): Override {
  const at = Math.min(recordS, Math.max(0, toS))
  const times = markTimes(override, landmarks, recordS)
  const pair = (start: number | null, end: number | null, moving: 'start' | 'end'): [number, number] => {
    if (moving === 'start') {
      const first = Math.min(at, recordS - leastS)
      return [first, Math.max(end ?? first, first + leastS)]
    }
    const last = Math.max(at, leastS)
    return [Math.min(start ?? last, last - leastS), last]
  }
  const moved: Readonly<Record<MarkId, () => Override>> = {
    beforeStart: () => ({ beforeWindow: pair(times.beforeStart, times.beforeEnd, 'start') }),
    beforeEnd: () => ({ beforeWindow: pair(times.beforeStart, times.beforeEnd, 'end') }),
    afterStart: () => ({ afterWindow: pair(times.afterStart, times.afterEnd, 'start') }),
    afterEnd: () => ({ afterWindow: pair(times.afterStart, times.afterEnd, 'end') }),
    crossLow: () => ({ crossLowS: at }),
    crossHigh: () => ({ crossHighS: at }),
    spanStart: () => ({ span: pair(times.spanStart, times.spanEnd, 'start') }),
    spanEnd: () => ({ span: pair(times.spanStart, times.spanEnd, 'end') }),
  }
  return { ...override, ...moved[id]() }
}

/** The override without one group: that mark is the machine's again. */
export function leaveToMachine(override: Override, key: keyof Override): Override {
  const { [key]: _dropped, ...rest } = override
  return rest
}

/** True when nothing is moved. */
export function isUntouched(override: Override): boolean {
  return Object.keys(override).length === 0
}
