import { createControlDisplay } from '#main/stimulus/control-socket.ts'
import { createSimulatedStimulus } from '#main/stimulus/simulated.ts'
import type { Stimulus } from '#main/core/ports.ts'

/** A stimulus over one control socket for its whole life. */
export function createControlStimulus(path: string): Stimulus & { close(): void } {
  const display = createControlDisplay(path)
  const stimulus = createSimulatedStimulus({ current: () => display, onChange: () => () => undefined })
  return { ...stimulus, close: () => display.close() }
}
