/** The shortest way from an input event to the screen: one listener that swaps two composited layers, no frame callback. */
import type { StimulusReport } from '#shared/domain/stimulus.ts'

export interface Reactions {
  /** The next key or pointer event swaps the layers and is reported under this token. */
  arm(token: number): void
  disarm(): void
}

const EVENTS = ['keydown', 'pointerdown'] as const

/** Listens while `target` does; answers with the arming and a function that ends it. */
export function listenForInput(
  target: EventTarget,
  swap: () => void,
  report: (report: StimulusReport) => void,
  now: () => number = () => performance.now(),
): Reactions & { stop(): void } {
  let armed: number | null = null
  const onInput = (event: Event): void => {
    if (armed === null || ('repeat' in event && event.repeat === true)) return
    const at = now()
    swap()
    const token = armed
    armed = null
    // A stamp of another clock says nothing; one of this clock is never later than now.
    report({ kind: 'reacted', token, handlerMs: Math.max(0, at - event.timeStamp) })
  }
  for (const name of EVENTS) target.addEventListener(name, onInput, { capture: true })
  return {
    arm(token) {
      armed = token
    },
    disarm() {
      armed = null
    },
    stop() {
      armed = null
      for (const name of EVENTS) target.removeEventListener(name, onInput, { capture: true })
    },
  }
}
