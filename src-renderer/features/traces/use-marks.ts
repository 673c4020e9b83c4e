import { useCallback, useEffect, useMemo, useState } from 'react'
import type { Result } from '#shared/domain/result.ts'
import type { Override } from '#shared/domain/views.ts'
import { describeError } from '../../client/errors.ts'
import { useHostStore } from '../../client/host.tsx'
import { createLatest } from '../../client/latest.ts'
import { leaveToMachine, moveMark, type MarkId } from './marks.ts'
import type { ShownCapture } from './use-shown-capture.ts'

export interface Marks {
  /** Marks are being moved. */
  readonly moving: boolean
  readonly draft: Override
  /** The capture measured with the draft; null until it is here. */
  readonly preview: Result | null
  readonly problem: string
  readonly start: () => void
  readonly stop: () => void
  readonly move: (id: MarkId, toS: number) => void
  readonly leave: (key: keyof Override) => void
}

interface Work {
  readonly captureId: number
  readonly draft: Override
  readonly preview: Result | null
  readonly problem: string
}

const NOTHING_MOVED: Override = {}
/** Shortest level window, samples. */
const LEAST_SAMPLES = 4

/** Marks in a person's hand: a draft that the host measures as it moves and that is stored only by a review. */
export function useMarks(shown: ShownCapture | null, recipeHash: string): Marks {
  const store = useHostStore()
  const [work, setWork] = useState<Work | null>(null)
  const captureId = shown?.detail.info.id ?? null
  // A draft belongs to one capture; on another one it is gone.
  const mine = work !== null && work.captureId === captureId ? work : null

  const asker = useMemo(() => {
    if (captureId === null) return null
    return createLatest<Override, Result>({
      put: async (override, signal) => {
        const { client } = store.snapshot()
        if (client === null) throw new Error('There is no connection to the host.')
        return client.captures.previewOverride({ captureId, recipeHash, override }, { signal })
      },
      onAnswer: (preview) => setWork((now) => (now?.captureId === captureId ? { ...now, preview, problem: '' } : now)),
      onError: (error) =>
        setWork((now) =>
          now?.captureId === captureId ? { ...now, preview: null, problem: describeError(error).message } : now,
        ),
    })
  }, [captureId, recipeHash, store])
  useEffect(() => () => asker?.stop(), [asker])

  const draft = mine?.draft ?? null
  useEffect(() => {
    if (draft !== null) asker?.ask(draft)
  }, [draft, asker])

  const standing = useMemo((): Override => {
    const newest = shown?.detail.reviews.filter((review) => !review.undone).at(-1)
    return newest?.decision === 'override' ? (newest.override ?? {}) : {}
  }, [shown?.detail])

  const start = useCallback(() => {
    if (captureId !== null) setWork({ captureId, draft: standing, preview: null, problem: '' })
  }, [captureId, standing])
  const stop = useCallback(() => setWork(null), [])
  const landmarks = mine?.preview?.landmarks ?? shown?.detail.result?.landmarks ?? null
  const info = shown?.detail.info ?? null
  const move = useCallback(
    (id: MarkId, toS: number) => {
      if (info === null) return
      const recordS = info.sampleCount / info.sampleRateHz
      const leastS = LEAST_SAMPLES / info.sampleRateHz
      setWork((now) =>
        now?.captureId === info.id ? { ...now, draft: moveMark(now.draft, landmarks, id, toS, recordS, leastS) } : now,
      )
    },
    [info, landmarks],
  )
  const leave = useCallback(
    (key: keyof Override) => setWork((now) => (now === null ? now : { ...now, draft: leaveToMachine(now.draft, key) })),
    [],
  )
  return useMemo(
    () => ({
      moving: mine !== null,
      draft: mine?.draft ?? NOTHING_MOVED,
      preview: mine?.preview ?? null,
      problem: mine?.problem ?? '',
      start,
      stop,
      move,
      leave,
    }),
    [mine, start, stop, move, leave],
  )
}
