import { useMemo, useState } from 'react'
import { useHostQuery } from '../../client/queries.ts'
import { useCommand } from '../../client/use-command.ts'
import { useNotices } from '../../client/notices.tsx'
import { useSettled } from '../../ui/use-settled.ts'
import { useStable } from '../../ui/use-stable.ts'
import { useCaptureCount, type ListFilter } from './use-capture-pages.ts'

/** Rest before the host is asked for the place, so that running through the list asks once, ms. */
const REST_MS = 120

/** Where the chosen capture is in the list: as chosen there, then as the host says; null when it is not in it. */
export function usePlace(filter: ListFilter, captureId: number | null) {
  const [chosen, setChosen] = useState<{ readonly captureId: number; readonly index: number } | null>(null)
  const settled = useSettled(captureId, REST_MS)
  const asked = useHostQuery(
    ['captures', 'place', filter, settled],
    (client, signal) =>
      client.captures.position({ filter: { ...filter, offset: 0, limit: 1 }, captureId: settled ?? 0 }, { signal }),
    { enabled: settled !== null },
  )
  const told = settled === captureId && asked.data !== undefined
  const index = told ? (asked.data?.index ?? null) : chosen?.captureId === captureId ? (chosen?.index ?? null) : null
  return { index, setChosen }
}

/** Doubtful captures of the list: flagged, not reviewed, not replaced. In the order of the list, its end next to its beginning. */
export interface Queue {
  /** Place of the shown capture, 0-based; null when it is not doubtful, or not known yet. */
  readonly index: number | null
  /** null until it is known. */
  readonly total: number | null
  readonly go: (direction: Direction) => void
}
type Direction = 'next' | 'previous'

export function useQueue(filter: ListFilter, captureId: number | null, onCapture: (captureId: number) => void): Queue {
  const doubtful = useMemo(() => ({ ...filter, doubtful: true }), [filter])
  const { total } = useCaptureCount(doubtful)
  const { index } = usePlace(doubtful, captureId)
  const notices = useNotices()
  const find = useCommand('The next doubtful capture could not be found', async (client, direction: Direction) => {
    const at = (offset: number) => client.captures.list({ ...doubtful, offset, limit: 1 })
    if (captureId !== null) {
      const asked = { filter: { ...doubtful, offset: 0, limit: 1 }, captureId, direction }
      const place = await client.captures.neighbour(asked)
      if (place !== null) return { captureId: place.captureId }
    }
    // Past the end: on at the other one.
    const first = await at(0)
    const found = direction === 'next' || first.total < 2 ? first : await at(first.total - 1)
    return { captureId: found.rows[0]?.info.id ?? null }
  })
  const go = useStable((direction: Direction) => {
    void (async () => {
      const found = await find.run(direction)
      if (found === null) return
      if (found.captureId !== null && found.captureId !== captureId) onCapture(found.captureId)
      else
        notices.raise({
          kind: 'info',
          title: found.captureId === null ? 'No doubtful captures' : 'No other doubtful capture',
          message: 'Every other capture in this list is unflagged or has been reviewed.',
          remedy: '',
        })
    })()
  })
  return { index, total, go }
}
