/** A hidden page draws no frames: its work is done after this long, ms. */
const HIDDEN_MS = 100
/** What the host tells of one event comes in several messages within this time, ms. */
const GATHER_MS = 50

const waiting: (() => void)[] = []
let isAsked = false
let gathersUntil = 0

/** Runs shortly before the next frame is drawn, so that everything that arrives between two frames is drawn once. */
export function beforeFrame(run: () => void): void {
  waiting.push(run)
  if (isAsked) return
  isAsked = true
  const left = gathersUntil - performance.now()
  if (left > 0) setTimeout(ask, left)
  else ask()
}

/**
 * The same for news that nobody on this page asked for: it waits a little for the lists, numbers and curves that follow
 * from it, and all of it is drawn in one frame.
 */
export function beforeFrameGathered(run: () => void): void {
  if (!isAsked) gathersUntil = performance.now() + GATHER_MS
  beforeFrame(run)
}

function ask(): void {
  const once = () => {
    cancelAnimationFrame(frame)
    clearTimeout(timer)
    isAsked = false
    for (const each of waiting.splice(0)) each()
  }
  const frame = requestAnimationFrame(once)
  const timer = setTimeout(once, HIDDEN_MS)
}
