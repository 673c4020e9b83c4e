import type { PowerSaveBlocker } from 'electron'
import type { HostEvent, HostState } from '#shared/domain/views.ts'

/** Keeps display and machine awake while a sweep runs. */
export function keepAwakeWhileSweeping(
  blocker: PowerSaveBlocker,
  state: () => HostState,
  watch: (listener: (event: HostEvent) => void) => () => void,
): () => void {
  let id: number | null = null
  const update = (): void => {
    const running = isSweeping(state())
    if (running && id === null) id = blocker.start('prevent-display-sleep')
    if (running || id === null) return
    blocker.stop(id)
    id = null
  }
  update()
  const unwatch = watch((event) => {
    if (event.kind === 'state') update()
  })
  return () => {
    unwatch()
    if (id !== null) blocker.stop(id)
    id = null
  }
}

export function isSweeping({ sweep }: HostState): boolean {
  return sweep?.state === 'running' || sweep?.state === 'ladder'
}
