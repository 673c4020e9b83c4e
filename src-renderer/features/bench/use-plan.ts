import { useState } from 'react'
import { SIM_SETTINGS } from '#shared/domain/rig.ts'
import type { PlanCheck } from '#shared/domain/views.ts'
import { useHostQuery } from '../../client/queries.ts'
import { readStored, writeStored } from '../../ui/storage.ts'
import { useSettled } from '../../ui/use-settled.ts'
import { readDraft, restoreDraft, type PlanDraft, type PlanReading } from './plan-draft.ts'

const DRAFT_KEY = 'plan-draft'
const CHECK_DELAY_MS = 250

export interface PlanInHand {
  readonly draft: PlanDraft
  readonly setDraft: (draft: PlanDraft) => void
  readonly reading: PlanReading
  /** Cost of the plan as typed; null while it is being worked out. */
  readonly check: PlanCheck | null
}

/** The plan of the next sweep: kept on this machine as it is typed, read at once, costed when the typing rests. */
export function usePlan(simulated: boolean): PlanInHand {
  const [draft, setDraft] = useState<PlanDraft>(() => restoreDraft(readStored(DRAFT_KEY)))
  const reading = readDraft(draft, simulated ? SIM_SETTINGS : null)
  const settled = useSettled(reading.plan, CHECK_DELAY_MS)
  const check = useHostQuery(
    ['check', settled],
    (client, signal) => client.sweeps.check({ plan: settled }, { signal }),
    { enabled: settled !== null, keep: true },
  )
  return {
    draft,
    setDraft: (next) => {
      setDraft(next)
      writeStored(DRAFT_KEY, next)
    },
    reading,
    check: reading.plan === null ? null : (check.data ?? null),
  }
}
