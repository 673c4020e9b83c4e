import { useState } from 'react'
import type { SweepPlan } from '#shared/domain/plan.ts'
import { useHostState } from '../client/host.tsx'
import { useCommand } from '../client/use-command.ts'

/** A start that waits until the warning about flashing light was read. */
interface Warning {
  readonly plan: SweepPlan | null
  readonly run: () => void
}

export interface FlashWarningState {
  readonly warning: Warning | null
  readonly acknowledging: boolean
  readonly close: () => void
  /** Has the host remember that the warning was read, then runs what waited for it. */
  readonly acknowledge: () => void
  /** Runs at once where the warning was read on this machine, else after it was. */
  readonly afterWarning: (plan: SweepPlan | null, run: () => void) => void
}

export function useFlashWarning(): FlashWarningState {
  const acknowledged = useHostState((state) => state.warningAcknowledged)
  const [warning, setWarning] = useState<Warning | null>(null)
  const command = useCommand('The warning could not be acknowledged', (client) =>
    client.system.acknowledgeWarning({ understood: true }),
  )
  return {
    warning,
    acknowledging: command.busy,
    close: () => setWarning(null),
    acknowledge: () => {
      void (async () => {
        const done = await command.run()
        setWarning(null)
        if (done !== null) warning?.run()
      })()
    },
    afterWarning: (plan, run) => {
      if (acknowledged) run()
      else setWarning({ plan, run })
    },
  }
}
