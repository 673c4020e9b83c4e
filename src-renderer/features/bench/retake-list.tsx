import type { RetakeEntry } from '#shared/domain/desk.ts'
import { useHostQuery } from '../../client/queries.ts'
import { Action, EmptyState } from '../../ui/controls.tsx'
import { hertz, pair, plural } from '../../ui/format.ts'
import { EVERYTHING, writeAddress } from '../../navigation/address.ts'

const NONE: readonly RetakeEntry[] = []

/** Captures people sent back and that no sweep has taken again yet, of all sweeps. */
export function useRetakes(): readonly RetakeEntry[] {
  const retakes = useHostQuery(['reviews', 'retakes'], (client, signal) => client.sweeps.retakes({}, { signal }), {
    keep: true,
  })
  return retakes.data ?? NONE
}

export interface RetakeListProps {
  readonly retakes: readonly RetakeEntry[]
  /** Why no retake can run now; empty when it can. */
  readonly obstacle: string
  readonly busy: boolean
  readonly onRun: (sweepId: number) => void
}

/** The queue, sweep by sweep; running one takes just its captures again. */
export function RetakeList({ retakes, obstacle, busy, onRun }: RetakeListProps) {
  if (retakes.length === 0)
    return (
      <EmptyState title="Nothing to retake">
        A capture sent back on the Traces screen waits here until its sweep takes it again.
      </EmptyState>
    )
  const sweeps = [...new Set(retakes.map(({ sweepId }) => sweepId))]
  return (
    <div className="cell-captures">
      {obstacle === '' ? null : <p className="hint">{obstacle}</p>}
      {sweeps.map((sweepId) => {
        const queue = retakes.filter((entry) => entry.sweepId === sweepId)
        const [first] = queue
        if (first === undefined) return null
        const able = queue.filter((entry) => entry.obstacle === '')
        return (
          <section key={sweepId} className="retakes" aria-label={`Retakes of sweep ${sweepId}`}>
            <header className="card-head">
              <h3>
                Sweep {sweepId}: {first.setting}, {hertz(first.refreshHz)} Hz
              </h3>
              <Action
                tone="main"
                size="small"
                isDisabled={obstacle !== '' || able.length === 0}
                isPending={busy}
                onPress={() => onRun(sweepId)}
              >
                Run {plural(able.length, 'retake')}
              </Action>
            </header>
            <ul className="retake-rows">
              {queue.map((entry) => (
                <li key={entry.captureId}>
                  <a href={writeAddress({ captureId: entry.captureId, filter: { ...EVERYTHING, sweepId } })}>
                    #{entry.captureId}
                  </a>{' '}
                  <strong>{pair(entry.from, entry.to)}</strong>, repeat {entry.repeat}
                  <span className="minor">
                    {' '}
                    “{entry.reason}”, {entry.reviewer}
                    {entry.attempts > 0 ? `; ${plural(entry.attempts, 'attempt')} without success` : ''}
                  </span>
                  {entry.obstacle === '' ? null : <div className="warn-text">{entry.obstacle}</div>}
                </li>
              ))}
            </ul>
          </section>
        )
      })}
    </div>
  )
}
