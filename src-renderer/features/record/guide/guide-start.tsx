import './guide.css'
import { useState } from 'react'
import { SEQUENCES, type SequenceId } from '#shared/domain/guided.ts'
import { useHostState } from '../../../client/host.tsx'
import { useHostQuery } from '../../../client/queries.ts'
import { useCommand } from '../../../client/use-command.ts'
import { FlashWarning } from '../../../parts/flash-warning.tsx'
import { useFlashWarning } from '../../../parts/use-flash-warning.ts'
import { Action } from '../../../ui/controls.tsx'
import { GuideForm } from './guide-form.tsx'

/** Sequences that measure a quantity of the record. */
const OF: Readonly<Record<string, readonly SequenceId[]>> = {
  uniformity: ['uniformity'],
  strobe: ['strobing', 'flicker'],
  angle: ['angle'],
  ladder: ['ladder'],
  'warm-up': ['white-over-time'],
  colour: ['colour'],
}

/** Begins guided sequences of one quantity, and goes on with those that were left. */
export function GuideStart({ campaignId, quantity }: { campaignId: number; quantity: string }) {
  const [asking, setAsking] = useState<SequenceId | null>(null)
  const own = OF[quantity] ?? []
  const open = useHostQuery(['readings', 'guided', campaignId], (client, signal) =>
    client.guided.open({ campaignId }, { signal }),
  )
  const last = useHostState((state) => state.jobs).findLast(
    ({ kind, label }) => kind === 'guided' && own.some((id) => SEQUENCES[id] === label),
  )
  const flash = useFlashWarning()
  const resume = useCommand('The sequence could not be resumed', (client, sequenceId: number) =>
    client.guided.resume({ campaignId, sequenceId }),
  )
  const discard = useCommand('The sequence could not be given up', (client, readingId: number) =>
    client.readings.hide({ readingId, hidden: true }),
  )
  if (own.length === 0) return null
  const left = (open.data ?? []).filter(({ plan }) => own.includes(plan.sequence))
  return (
    <div className="guide-start">
      {own.map((id) => (
        <Action key={id} size="small" onPress={() => setAsking(id)}>
          {`Guide me: ${SEQUENCES[id].toLowerCase()}…`}
        </Action>
      ))}
      {last === undefined || last.problem === '' ? null : <p className="hint">{last.problem}</p>}
      {left.map(({ sequenceId, plan, taken, total }) => (
        <span key={sequenceId} className="guide-start">
          <span className="hint">
            {SEQUENCES[plan.sequence]}: {taken} of {total} taken
          </span>
          <Action
            size="small"
            tone="main"
            isPending={resume.busy}
            aria-label={`Resume ${SEQUENCES[plan.sequence].toLowerCase()}, sequence ${sequenceId}`}
            onPress={() => flash.afterWarning(null, () => void resume.run(sequenceId))}
          >
            Resume
          </Action>
          <Action
            size="small"
            aria-label={`Give up ${SEQUENCES[plan.sequence].toLowerCase()}, sequence ${sequenceId}`}
            onPress={() => void discard.run(sequenceId)}
          >
            Give up
          </Action>
        </span>
      ))}
      {asking === null ? null : <GuideForm campaignId={campaignId} sequence={asking} onClose={() => setAsking(null)} />}
      <FlashWarning flash={flash} estimatedS={null} />
    </div>
  )
}
