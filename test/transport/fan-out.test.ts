import { describe, expect, it } from 'vitest'
import { createWaiting, eventStream, WAITING_LIMIT } from '#main/api/fan-out.ts'
import type { HostEvent } from '#shared/domain/views.ts'
import { STATE } from './fake-core.ts'

const capture = (captureId: number): HostEvent => ({ kind: 'capture', captureId, sweepId: 1, verdict: 'good' })

describe('events waiting for one listener', () => {
  it('keep the newest state, one announcement per subject, and the newest captures in order', () => {
    const waiting = createWaiting()
    for (let i = 1; i <= 3 * WAITING_LIMIT; i++) {
      waiting.add({ kind: 'state', state: { ...STATE, monitoring: i % 2 === 1 } })
      waiting.add({ kind: 'changed', what: 'results' })
      waiting.add(capture(i))
    }
    waiting.add({ kind: 'changed', what: 'reviews' })
    const events = waiting.take()
    expect(events.filter(({ kind }) => kind === 'state')).toEqual([{ kind: 'state', state: STATE }])
    expect(events.filter(({ kind }) => kind === 'changed')).toHaveLength(2)
    const captures = events.flatMap((event) => (event.kind === 'capture' ? [event.captureId] : []))
    expect(captures).toEqual(Array.from({ length: WAITING_LIMIT }, (_, i) => 2 * WAITING_LIMIT + 1 + i))
    expect(waiting.size).toBe(0)
  })

  it('stay bounded for a listener that never takes anything', async () => {
    const listeners = new Set<(event: HostEvent) => void>()
    const controller = new AbortController()
    let takes = (): void => undefined
    const stream = eventStream(
      (listener) => {
        listeners.add(listener)
        return () => listeners.delete(listener)
      },
      () => ({ kind: 'state', state: STATE }),
      () =>
        new Promise((resolve) => {
          takes = resolve
        }),
      controller.signal,
    )
    expect((await stream.next()).value).toEqual({ kind: 'state', state: STATE })
    const first = stream.next()
    for (let i = 0; i < 10_000; i++) for (const listener of listeners) listener(capture(i))
    const takesSoon = (): unknown => setTimeout(() => takes(), 10)
    takesSoon()
    const kept = [(await first).value]
    for (let i = 1; i < WAITING_LIMIT; i++) kept.push((await stream.next()).value)
    expect(kept).toEqual(Array.from({ length: WAITING_LIMIT }, (_, i) => capture(10_000 - WAITING_LIMIT + i)))
    const nothing = stream.next()
    controller.abort()
    takesSoon()
    expect((await nothing).done).toBe(true)
    expect(listeners.size).toBe(0)
  })
})
