/** A hidden page draws no frames: its work is done after this long, ms. */
const HIDDEN_MS = 100

/** Runs shortly before the next frame is drawn, so that everything that arrives between two frames is drawn once. */
export function beforeFrame(run: () => void): void {
  const once = () => {
    cancelAnimationFrame(frame)
    clearTimeout(timer)
    run()
  }
  const frame = requestAnimationFrame(once)
  const timer = setTimeout(once, HIDDEN_MS)
}
