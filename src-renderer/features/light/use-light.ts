import type { LightReading } from '#shared/measure/light.ts'
import { describeError } from '../../client/errors.ts'
import { useHostState } from '../../client/host.tsx'
import { useHostQuery } from '../../client/queries.ts'
import type { LightSource } from './source.ts'

export interface LightAnswer {
  readonly reading: LightReading | null
  readonly waiting: boolean
  readonly problem: { readonly message: string; readonly remedy: string } | null
}

/** The reading of the chosen light; the last one does not stay, so that numbers are never another record's. */
export function useLight(source: LightSource | null, darkV: number | null): LightAnswer {
  const recipeHash = useHostState((state) => state.recipeHash)
  const answer = useHostQuery(
    ['capture', 'light', source, darkV, recipeHash],
    async (client, signal) => {
      if (source === null) throw new Error('Nothing is chosen.')
      if (source.kind === 'recording') {
        const { fileId, name, mapping } = source
        return client.light.recording({ fileId, name, mapping, darkV }, { signal })
      }
      return client.light.capture({ captureId: source.captureId, part: source.part, recipeHash, darkV }, { signal })
    },
    { enabled: source !== null },
  )
  return {
    reading: source === null ? null : (answer.data ?? null),
    waiting: source !== null && answer.isFetching,
    problem: source === null || answer.error === null ? null : describeError(answer.error),
  }
}
