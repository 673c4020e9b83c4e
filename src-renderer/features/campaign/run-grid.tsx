import { useState } from 'react'
import type { Sweep, SweepState } from '#shared/domain/capture.ts'
import { hertz } from '#shared/domain/quantity-text.ts'
import { isDue, type Run } from '#shared/domain/run.ts'
import { useHostQuery } from '../../client/queries.ts'
import { useCommand } from '../../client/use-command.ts'
import { Action } from '../../ui/controls.tsx'

const WORDS: Readonly<Record<SweepState, string>> = {
  ready: 'to do',
  ladder: 'measuring levels',
  running: 'capturing',
  paused: 'paused',
  finished: 'done',
  stopped: 'skipped',
  failed: 'failed',
}

/** Settings × refresh rates of a run as they stand; the chosen one can be skipped, taken again, or brought back. */
export function RunGrid({ run, atWork }: { readonly run: Run; readonly atWork: number | null }) {
  const { plan } = run
  const all = useHostQuery(
    ['sweeps', run.campaignId, 'whole'],
    (client, signal) => client.sweeps.list({ campaignId: run.campaignId, includeHidden: true }, { signal }),
    { keep: true },
  )
  const [chosen, choose] = useState<string | null>(null)
  const rates = [...plan.refreshHz].sort((a, b) => a - b)
  const own = (all.data ?? []).filter(({ runId }) => runId === run.id)
  const inCell = (setting: string, refreshHz: number): readonly Sweep[] =>
    own.filter((sweep) => sweep.setting === setting && sweep.refreshHz === refreshHz)
  const keyOf = (setting: string, refreshHz: number): string => `${setting}\n${refreshHz}`
  const [setting, hz] = (chosen ?? '').split('\n')
  return (
    <div className="run-grid">
      <table className="campaign-grid">
        <caption>Choose a sweep to skip it, take it again, or bring an earlier one back.</caption>
        <thead>
          <tr>
            <th scope="col">Setting</th>
            {rates.map((rate) => (
              <th key={rate} scope="col">
                {hertz(rate)} Hz
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {plan.settings.map((name) => (
            <tr key={name}>
              <th scope="row">{name}</th>
              {rates.map((rate) => {
                const cell = inCell(name, rate)
                if (cell.length === 0) return <td key={rate}>–</td>
                const standing = cell.find(({ hidden }) => !hidden)
                const earlier = cell.filter(({ hidden }) => hidden).length
                return (
                  <td key={rate}>
                    <button
                      type="button"
                      className="run-cell"
                      aria-pressed={chosen === keyOf(name, rate)}
                      data-state={standing?.id === atWork ? 'at-work' : (standing?.state ?? 'hidden')}
                      onClick={() => choose(chosen === keyOf(name, rate) ? null : keyOf(name, rate))}
                    >
                      <span>
                        <span className="visually-hidden">
                          {name} at {hertz(rate)} Hz:{' '}
                        </span>
                        {stateOf(standing, atWork)}
                      </span>{' '}
                      <span className="run-cell-count">
                        {standing === undefined ? '' : `${standing.done} of ${standing.total}`}
                        {earlier === 0 ? '' : ` · ${earlier} hidden`}
                      </span>
                    </button>
                  </td>
                )
              })}
            </tr>
          ))}
        </tbody>
      </table>
      {setting === undefined || hz === undefined || inCell(setting, Number(hz)).length === 0 ? null : (
        <CellActions run={run} cell={inCell(setting, Number(hz))} atWork={atWork} />
      )}
    </div>
  )
}

const stateOf = (sweep: Sweep | undefined, atWork: number | null): string =>
  sweep === undefined ? 'hidden' : sweep.id === atWork ? 'in progress' : WORDS[sweep.state]

function CellActions({ run, cell, atWork }: { run: Run; cell: readonly Sweep[]; atWork: number | null }) {
  const refOf = (sweepId: number) => ({ runId: run.id, sweepId })
  const skip = useCommand('The sweep could not be skipped', (client, id: number) => client.runs.skip(refOf(id)))
  const unskip = useCommand('The sweep could not be put back into the run', (client, id: number) =>
    client.runs.unskip(refOf(id)),
  )
  const retake = useCommand('The sweep could not be put into the run again', (client, id: number) =>
    client.runs.retake(refOf(id)),
  )
  const restore = useCommand('The earlier sweep could not be brought back', (client, id: number) =>
    client.runs.restore(refOf(id)),
  )
  const busy = skip.busy || unskip.busy || retake.busy || restore.busy
  const standing = cell.find(({ hidden }) => !hidden)
  const hidden = cell.filter((sweep) => sweep.hidden)
  const first = standing ?? hidden[0]
  if (first === undefined) return null
  const name = `${first.setting} at ${hertz(first.refreshHz)} Hz`
  const isAtWork = standing?.id === atWork && atWork !== null
  return (
    <section className="run-cell-actions" aria-label={name}>
      <h3>{name}</h3>
      {standing === undefined ? null : (
        <p>
          Sweep {standing.id}, {stateOf(standing, atWork)}, {standing.done} of {standing.total} captures
          {standing.missing === 0 ? '' : `, ${standing.missing} missing`}.{' '}
          {standing.done === 0 ? null : (
            <a href={`#/bench?campaign=${run.campaignId}&sweep=${standing.id}`}>Show on the Bench</a>
          )}
        </p>
      )}
      <div className="run-cell-row">
        {standing !== undefined && isDue(standing) ? (
          <Action isDisabled={busy} onPress={() => void skip.run(standing.id)}>
            Skip it
          </Action>
        ) : null}
        {standing?.state === 'stopped' && !isAtWork ? (
          <Action isDisabled={busy} onPress={() => void unskip.run(standing.id)}>
            {standing.done > 0 ? 'Take the rest after all' : 'Take it after all'}
          </Action>
        ) : null}
        {standing !== undefined && !isAtWork && standing.done > 0 ? (
          <Action isDisabled={busy} onPress={() => void retake.run(standing.id)}>
            Take it again
          </Action>
        ) : null}
      </div>
      {hidden.map((sweep) => (
        <p key={sweep.id} className="run-cell-row">
          <span className="hint">
            Hidden: sweep {sweep.id}, {sweep.done} of {sweep.total} captures.
          </span>
          <Action size="small" isDisabled={busy || isAtWork} onPress={() => void restore.run(sweep.id)}>
            Bring it back
          </Action>
        </p>
      ))}
      <p className="hint">
        Open sweeps at the display’s present setting come first, then the order of the plan. Taking a sweep again hides
        the earlier one; nothing is deleted.
      </p>
    </section>
  )
}
