/** Places in filtered and sorted lists: where a capture is, and which come before and after it. */
import type { CapturePlace } from '#shared/domain/desk.ts'
import type { CaptureFilter } from '#shared/domain/views.ts'
import type { Archive } from '../archive.ts'
import { orderedOnce, questionOf } from './list.ts'

const idsOf = (archive: Archive, filter: CaptureFilter): readonly number[] =>
  orderedOnce(archive, filter, questionOf(archive, filter))

/** Null when the capture is not in the list. */
export function position(
  archive: Archive,
  { filter, captureId }: { readonly filter: CaptureFilter; readonly captureId: number },
): CapturePlace | null {
  const ids = idsOf(archive, filter)
  const index = ids.indexOf(captureId)
  return index < 0 ? null : { captureId, index, total: ids.length }
}

/**
 * The capture after or before one in the list; null at its ends. From a capture that is not in the list (a decision has
 * just taken it out, say), the nearest in that direction in the same order without the conditions that decisions and
 * measuring change; from one that is not even there, the first or the last of the list.
 */
export function neighbour(
  archive: Archive,
  request: { readonly filter: CaptureFilter; readonly captureId: number; readonly direction: 'next' | 'previous' },
): CapturePlace | null {
  const { filter, captureId, direction } = request
  const ids = idsOf(archive, filter)
  const step = direction === 'next' ? 1 : -1
  const placeAt = (index: number): CapturePlace | null => {
    const found = ids[index]
    return found === undefined ? null : { captureId: found, index, total: ids.length }
  }
  const index = ids.indexOf(captureId)
  if (index >= 0) return placeAt(index + step)
  const { doubtful: _doubtful, review: _review, noted: _noted, flag: _flag, ...lasting } = filter
  // Asked for after the list itself: only the newest order is kept.
  const wider = idsOf(archive, lasting)
  const from = wider.indexOf(captureId)
  if (from < 0) return placeAt(direction === 'next' ? 0 : ids.length - 1)
  const places = new Map(ids.map((id, at) => [id, at]))
  for (let i = from + step; i >= 0 && i < wider.length; i += step) {
    const at = places.get(wider[i] as number)
    if (at !== undefined) return placeAt(at)
  }
  return null
}
