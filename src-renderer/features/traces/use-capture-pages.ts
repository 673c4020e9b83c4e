import { useQueries } from '@tanstack/react-query'
import type { CaptureFilter, CaptureRow } from '#shared/domain/views.ts'
import { describeError } from '../../client/errors.ts'
import type { Client } from '../../client/connect.ts'
import { useClient } from '../../client/host.tsx'
import { useHostQuery } from '../../client/queries.ts'
import { PAGE_ROWS, pagesFor } from './list-moves.ts'

export type ListFilter = Omit<CaptureFilter, 'offset' | 'limit'>

const pageKey = (filter: ListFilter, page: number) => ['captures', 'page', filter, page] as const

const askPage =
  (filter: ListFilter, page: number) =>
  (client: Client, signal: AbortSignal): Promise<{ rows: CaptureRow[]; total: number }> =>
    client.captures.list({ ...filter, offset: page * PAGE_ROWS, limit: PAGE_ROWS }, { signal })

/** How many captures match; null until the first answer. It comes with the first page, which is always held. */
export function useCaptureCount(filter: ListFilter): { readonly total: number | null; readonly problem: string } {
  const first = useHostQuery(pageKey(filter, 0), askPage(filter, 0))
  return {
    total: first.data?.total ?? null,
    problem: first.error === null ? '' : describeError(first.error).message,
  }
}

/** Rows by their index in the whole list, of which only the pages around the rows in view are held; null while on its way. */
export function useCapturePages(filter: ListFilter, first: number, last: number): (index: number) => CaptureRow | null {
  const client = useClient()
  const pages = pagesFor(first, last)
  const answers = useQueries({
    queries: pages.map((page) => ({
      queryKey: pageKey(filter, page),
      queryFn: ({ signal }: { signal: AbortSignal }) => {
        if (client === null) throw new Error('No connection to the host.')
        return askPage(filter, page)(client, signal)
      },
      enabled: client !== null,
    })),
  })
  return (index) => {
    const at = pages.indexOf(Math.floor(index / PAGE_ROWS))
    return answers[at]?.data?.rows[index % PAGE_ROWS] ?? null
  }
}
