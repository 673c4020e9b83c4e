import type { HostEvent, SweepProgress } from '#shared/domain/views.ts'
import type { CliCore, CliProcess } from './host.ts'
import type { Output } from './output.ts'

/**
 * Starts a sweep and follows it to its end. The first interrupt pauses it after the capture in hand, the second at
 * once. A sweep that lost its rig is waited for until the rig is back or an interrupt comes.
 */
export async function followSweep(
  core: CliCore['core'],
  sweepId: number,
  begin: () => Promise<unknown>,
  process: CliProcess,
  output: Output,
  onProgress: (progress: SweepProgress) => void,
): Promise<'finished' | 'paused'> {
  let interrupts = 0
  let errors = 0
  let wake: (() => void) | null = null
  const stopWatching = core.system.watch((event: HostEvent) => {
    if (event.kind === 'log' && (event.entry.level !== 'info' || wake !== null)) output.note(event.entry.text)
    // While the rig is waited for, an error says that the sweep could not be taken up.
    if (event.kind === 'log' && event.entry.level === 'error') {
      errors += 1
      wake?.()
    }
    if (event.kind !== 'state') return
    const { sweep } = event.state
    if (sweep?.sweepId === sweepId && isUnderWay(sweep)) onProgress(sweep)
    wake?.()
  })
  const release = process.onInterrupt(() => {
    interrupts += 1
    wake?.()
    if (interrupts === 1) {
      output.note('Pausing after the current capture; Ctrl-C again stops at once.')
      core.sweeps.pause({ sweepId }).catch(() => undefined)
    } else core.sweeps.stop({ sweepId }).catch(() => undefined)
  })
  const progress = (): SweepProgress | null => core.system.state().sweep
  try {
    await begin()
    for (;;) {
      await core.sweepIdle()
      if (progress()?.state === 'finished') return 'finished'
      if (interrupts > 0 || core.system.state().rig.status !== 'lost') return 'paused'
      output.note('The rig is lost. The sweep resumes when it is back; Ctrl-C ends the wait.')
      const errorsBefore = errors
      await new Promise<void>((resolve) => {
        wake = () => {
          const now = progress()
          if (interrupts > 0 || errors > errorsBefore || (now !== null && isUnderWay(now))) resolve()
        }
        wake()
      })
      wake = null
    }
  } finally {
    release()
    stopWatching()
  }
}

const isUnderWay = ({ state }: SweepProgress): boolean => state === 'running' || state === 'ladder'
