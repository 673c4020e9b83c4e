import { useState } from 'react'
import { useHostQuery } from '../../client/queries.ts'
import { useCommand } from '../../client/use-command.ts'
import { useNotices } from '../../client/notices.tsx'
import { useSettled } from '../../ui/use-settled.ts'
import type { ListFilter } from './use-capture-pages.ts'

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

/** Next and previous doubtful capture in the order of the list. */
export function useDoubts(filter: ListFilter, captureId: number | null, onCapture: (captureId: number) => void) {
  const notices = useNotices()
  const find = useCommand(
    'The next doubtful capture could not be found',
    async (client, direction: 'next' | 'previous') => {
      const doubtful = { ...filter, doubtful: true, offset: 0, limit: 1 }
      if (captureId !== null) {
        const place = await client.captures.neighbour({ filter: doubtful, captureId, direction })
        return { captureId: place?.captureId ?? null }
      }
      const first = (await client.captures.list(doubtful)).rows[0]
      return first === undefined ? { captureId: null } : { captureId: first.info.id }
    },
  )
  return async (direction: 'next' | 'previous'): Promise<void> => {
    const found = await find.run(direction)
    if (found === null) return
    if (found.captureId !== null) onCapture(found.captureId)
    else
      notices.raise({
        kind: 'info',
        title: `No ${direction} doubtful capture`,
        message: 'Every other one in this list is without flags or has been reviewed.',
        remedy: '',
      })
  }
}
