/** Lists and matrices asked from the host, kept until an event says that they changed. */
import { QueryClient, type QueryKey, useQuery } from '@tanstack/react-query'
import type { MeasureId } from '#shared/domain/measures.ts'
import type { CaptureFilter, HostEvent } from '#shared/domain/views.ts'
import type { Client } from './connect.ts'
import { useClient } from './host.tsx'
import { throttle } from './throttle.ts'
import { topicsOf, type Topic } from './topics.ts'

export function createQueryClient(): QueryClient {
  return new QueryClient({
    defaultOptions: {
      queries: { staleTime: Infinity, gcTime: 60_000, retry: false, refetchOnWindowFocus: false },
      mutations: { retry: false },
    },
  })
}

/** Least time between asking a topic again, ms: after what people do, and while the captures of a sweep pour in. */
const REFRESH_MS = { changed: 300, capture: 1000 } as const

/** Turns events into refreshes, each topic at most so often; the first one after a rest is at once. */
export function createRefresher(queries: QueryClient): (event: HostEvent) => void {
  const known = new Map<string, () => void>()
  const refresher = (cause: keyof typeof REFRESH_MS, topic: Topic) => {
    const key = `${cause} ${topic}`
    const run =
      known.get(key) ?? throttle(() => void queries.invalidateQueries({ queryKey: [topic] }), REFRESH_MS[cause])
    known.set(key, run)
    return run
  }
  return (event) => {
    const cause = event.kind === 'capture' ? 'capture' : 'changed'
    for (const topic of topicsOf(event)) refresher(cause, topic)()
  }
}

type Key = readonly [Topic, ...unknown[]]

/**
 * A query that waits for the line to be open and for `enabled`. `keep`: the last answer stays while the next one loads,
 * always or where its key is liked. `share`: unchanged parts of an answer stay the same objects; of a large answer that
 * changes as a whole, looking for them costs more than it saves.
 */
export function useHostQuery<T>(
  key: Key,
  ask: (client: Client, signal: AbortSignal) => Promise<T>,
  options: { enabled?: boolean; keep?: boolean | ((key: QueryKey) => boolean); share?: boolean; staleMs?: number } = {},
) {
  const client = useClient()
  const { keep = false } = options
  return useQuery<T>({
    queryKey: key,
    queryFn: ({ signal }) => {
      if (client === null) throw new Error('No connection to the host.')
      return ask(client, signal)
    },
    enabled: client !== null && (options.enabled ?? true),
    structuralSharing: options.share ?? true,
    placeholderData: (last, query) =>
      query !== undefined && (typeof keep === 'boolean' ? keep : keep(query.queryKey)) ? last : undefined,
    ...(options.staleMs === undefined ? {} : { staleTime: options.staleMs }),
  })
}

export const useCampaigns = () =>
  useHostQuery(['campaigns'], (client, signal) => client.campaigns.list(undefined, { signal }))

export const useSweeps = (campaignId: number | null) =>
  useHostQuery(
    ['sweeps', campaignId],
    (client, signal) => client.sweeps.list(campaignId === null ? {} : { campaignId }, { signal }),
    { enabled: campaignId !== null },
  )

export const useRecipes = () =>
  useHostQuery(['recipes'], (client, signal) => client.recipes.list(undefined, { signal }))

/** Captures of a sweep with these measures. `keep`: while other measures of the same are asked, what is here stays. */
export const useMatrix = (
  sweepId: number | null,
  recipeHash: string,
  measures: readonly MeasureId[],
  { keep = false } = {},
) =>
  useHostQuery(
    ['matrix', sweepId, recipeHash, ...measures],
    (client, signal) =>
      client.sweeps.matrix({ sweepId: sweepId ?? 0, recipeHash, measures: [...measures] }, { signal }),
    {
      enabled: sweepId !== null,
      keep: ([, sweep, hash]) => keep && sweep === sweepId && hash === recipeHash,
      share: false,
    },
  )

export const useCaptures = (filter: Partial<CaptureFilter> & { recipeHash: string }, enabled = true) =>
  useHostQuery(['captures', filter], (client, signal) => client.captures.list(filter, { signal }), {
    enabled,
    keep: true,
  })

export const useCapture = (captureId: number | null, recipeHash: string) =>
  useHostQuery(
    ['capture', captureId, recipeHash],
    (client, signal) => client.captures.get({ captureId: captureId ?? 0, recipeHash }, { signal }),
    { enabled: captureId !== null },
  )

/** Causes of the uncertainty of one measure in captures of a transition, largest first. */
export const useCauses = (captureIds: readonly number[], recipeHash: string, measure: MeasureId) =>
  useHostQuery(
    ['capture', 'causes', recipeHash, measure, ...captureIds],
    (client, signal) => client.captures.causes({ captureIds: [...captureIds], recipeHash, measure }, { signal }),
    { enabled: captureIds.length > 0 },
  )
