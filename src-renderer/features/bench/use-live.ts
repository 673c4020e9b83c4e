import { useEffect, useRef, useState } from 'react'
import { flushSync } from 'react-dom'
import type { LiveView } from '#shared/domain/views.ts'
import { beforeFrame } from '../../client/before-frame.ts'
import { describeError } from '../../client/errors.ts'
import { useClient } from '../../client/host.tsx'
import { startLivePuller } from '../../client/live-puller.ts'
import { TRACE_COLUMNS } from './trace-view.tsx'

/** Newest recording, asked for every `askMs` while nothing new comes; 0 asks once a frame. */
export function useLive(askMs: number): { readonly frame: LiveView | null; readonly problem: string } {
  const client = useClient()
  const [frame, setFrame] = useState<LiveView | null>(null)
  const [problem, setProblem] = useState('')
  const idleMs = useRef(askMs)
  useEffect(() => {
    idleMs.current = askMs
  }, [askMs])
  useEffect(() => {
    if (client === null) return undefined
    return startLivePuller<LiveView>({
      request: (since) => client.rig.live({ since, columns: TRACE_COLUMNS }),
      // Drawn together with what else came before this frame.
      onFrame: (next) =>
        beforeFrame(() =>
          flushSync(() => {
            setProblem('')
            setFrame(next)
          }),
        ),
      onError: (error) => setProblem(describeError(error).message),
      idleMs: () => idleMs.current,
      nextFrame: (run) => requestAnimationFrame(run),
      cancelFrame: (handle) => cancelAnimationFrame(handle),
      rest: restWhileSeen,
    })
  }, [client])
  return { frame, problem }
}

/** A hidden page draws no frames: it goes on when it is seen again. */
function restWhileSeen(ms: number, run: () => void): () => void {
  let frame = 0
  const timer = setTimeout(() => {
    if (document.hidden) frame = requestAnimationFrame(run)
    else run()
  }, ms)
  return () => {
    clearTimeout(timer)
    cancelAnimationFrame(frame)
  }
}
