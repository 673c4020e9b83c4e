/** Which simulated display goes with the rig at hand: the embedded one, or the one behind a control socket. */
import type { Rig } from '#main/core/ports.ts'
import { createControlDisplay, type ControlDisplay } from './control-socket.ts'
import type { DrivenDisplay, DrivenDisplaySource } from './driven-display.ts'

export function createDisplaySource(deps: {
  readonly rig: Pick<Rig, 'state' | 'onState'>
  readonly embedded: DrivenDisplaySource
}): DrivenDisplaySource & { close(): void } {
  const { rig, embedded } = deps
  const listeners = new Set<() => void>()
  let path: string | null = null
  let remote: ControlDisplay | null = null
  const announce = (): void => {
    for (const listener of listeners) listener()
  }
  const follow = (): void => {
    const { target } = rig.state()
    const wanted = target?.kind === 'serial' ? (target.controlPath ?? null) : null
    if (wanted === path) return
    remote?.close()
    path = wanted
    remote = wanted === null ? null : createControlDisplay(wanted)
    announce()
  }
  const stops = [rig.onState(follow), embedded.onChange(announce)]
  follow()
  return {
    current(): DrivenDisplay | null {
      return rig.state().target?.kind === 'serial' ? remote : embedded.current()
    },
    onChange(listener) {
      listeners.add(listener)
      return () => listeners.delete(listener)
    },
    close() {
      for (const stop of stops) stop()
      remote?.close()
    },
  }
}
