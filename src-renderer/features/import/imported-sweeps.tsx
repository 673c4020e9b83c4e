import type { Campaign, Sweep } from '#shared/domain/capture.ts'
import { Action, EmptyState } from '../../ui/controls.tsx'
import { clockTime, count, hertz } from '../../ui/format.ts'
import { SWEEP_STATE_WORDS } from '../../ui/words.ts'
import { SweepLinks } from './sweep-links.tsx'

export interface ImportedSweepsProps {
  readonly sweeps: readonly Sweep[]
  readonly campaigns: readonly Campaign[]
  readonly busy: boolean
  readonly onHide: (sweepId: number, hidden: boolean) => void
}

/** Every imported sweep, also those taken back. */
export function ImportedSweeps({ sweeps, campaigns, busy, onHide }: ImportedSweepsProps) {
  const imported = sweeps.filter(({ origin }) => origin === 'imported').sort((a, b) => b.id - a.id)
  if (imported.length === 0)
    return (
      <EmptyState title="Nothing imported yet">
        Every imported sweep is listed here. Hiding one takes it out of all lists; its traces are kept.
      </EmptyState>
    )
  return (
    <table className="data-table imported-sweeps" aria-label="Imported sweeps">
      <thead>
        <tr>
          <th scope="col">Sweep</th>
          <th scope="col">Campaign</th>
          <th scope="col">Setting, refresh</th>
          <th scope="col">Recordings</th>
          <th scope="col">State</th>
          <th scope="col">
            <span className="visually-hidden">Actions</span>
          </th>
        </tr>
      </thead>
      <tbody>
        {imported.map((sweep) => (
          <tr key={sweep.id} data-hidden={sweep.hidden}>
            <td>
              #{sweep.id}
              <span className="minor"> {sweep.createdAt.slice(0, 10)}</span>{' '}
              <span className="minor">{clockTime(sweep.createdAt)}</span>
            </td>
            <td>{campaigns.find(({ id }) => id === sweep.campaignId)?.name ?? sweep.campaignId}</td>
            <td>
              {sweep.plan.setting}, {hertz(sweep.plan.refreshHz)} Hz
            </td>
            <td className="digits">
              {count(sweep.done)} of {count(sweep.total)}
            </td>
            <td>
              {sweep.hidden ? 'hidden' : SWEEP_STATE_WORDS[sweep.state]}
              {sweep.reason === '' ? null : <span className="minor"> {sweep.reason}</span>}
            </td>
            <td>
              <div className="row imported-actions">
                {sweep.hidden ? null : <SweepLinks sweep={sweep} size="small" />}
                <Action
                  size="small"
                  isPending={busy}
                  aria-label={sweep.hidden ? `Restore sweep ${sweep.id}` : `Hide sweep ${sweep.id}`}
                  onPress={() => onHide(sweep.id, !sweep.hidden)}
                >
                  {sweep.hidden ? 'Restore' : 'Hide'}
                </Action>
              </div>
            </td>
          </tr>
        ))}
      </tbody>
    </table>
  )
}
