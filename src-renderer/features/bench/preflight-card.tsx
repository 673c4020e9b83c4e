/** The list before the start: what was found, and what to do where it is doubtful or wrong. */
import { useState } from 'react'
import type { SweepPlan } from '#shared/domain/plan.ts'
import type { Preflight, PreflightId, PreflightVerdict } from '#shared/domain/preflight.ts'
import { useHostState } from '../../client/host.tsx'
import { useCommand } from '../../client/use-command.ts'
import { Action, Card, StatusDot } from '../../ui/controls.tsx'
import { clockTime, plural, unbroken } from '../../ui/format.ts'

const NAMES: Readonly<Record<PreflightId, string>> = {
  range: 'Range',
  dark: 'Dark level',
  ripple: 'Ripple',
  noise: 'Smallest step',
  refresh: 'Refresh',
  detector: 'Detector',
  drift: 'Warm-up',
  time: 'Time',
}
const TONES: Readonly<Record<PreflightVerdict, 'good' | 'warn' | 'bad'>> = {
  right: 'good',
  doubtful: 'warn',
  wrong: 'bad',
}

/** What asks for something stands first. */
const URGENCY: readonly PreflightVerdict[] = ['wrong', 'doubtful', 'right']

export function PreflightCard({ plan, able }: { plan: SweepPlan | null; able: boolean }) {
  const simulated = useHostState(({ rig }) => rig.target?.kind === 'simulated')
  const [checked, setChecked] = useState<{ readonly of: string; readonly answer: Preflight } | null>(null)
  const check = useCommand('The check before the start failed', async (client, of: SweepPlan) => ({
    of: JSON.stringify(of),
    answer: await client.rig.preflight({ plan: of }),
  }))
  const stale = checked !== null && plan !== null && checked.of !== JSON.stringify(plan)
  const counts = (verdict: PreflightVerdict) => checked?.answer.lines.filter((line) => line.verdict === verdict).length
  return (
    <Card
      title="Before the start"
      aside={
        <span className="preflight-outcome">
          {checked === null ? null : (
            <span className={stale ? 'warn-text' : 'hint'} role="status" aria-label="Outcome of the list">
              {stale
                ? 'The plan has changed since: check again.'
                : `${clockTime(checked.answer.takenAt)}: ${counts('right')} right, ${counts('doubtful')} doubtful, ${plural(counts('wrong') ?? 0, 'wrong', 'wrong')}.`}
            </span>
          )}
          <Action
            size="small"
            isDisabled={!able || plan === null}
            isPending={check.busy}
            onPress={() => {
              if (plan === null) return
              void (async () => {
                const found = await check.run(plan)
                if (found !== null) setChecked(found)
              })()
            }}
          >
            {check.busy ? 'Looking…' : checked === null ? 'Check now' : 'Check again'}
          </Action>
        </span>
      }
    >
      {checked === null ? (
        <p className="hint">
          Shows black, the level above it and white for about a second each, records them, and says what is right,
          doubtful or wrong: range, dark level, ripple, noise, refresh, detector, warm-up, time.
          {simulated ? ' On the simulated rig every number is invented.' : ''}
        </p>
      ) : (
        <ul className="preflight" data-stale={stale}>
          {checked.answer.lines
            .toSorted((a, b) => URGENCY.indexOf(a.verdict) - URGENCY.indexOf(b.verdict))
            .map(({ id, verdict, found, remedy }) => (
              <li key={id}>
                <StatusDot tone={TONES[verdict]}>{verdict}</StatusDot>
                <span className="preflight-name">{NAMES[id]}</span>
                <span>
                  {unbroken(found)}
                  {remedy === '' ? null : <span className="preflight-remedy">{remedy}</span>}
                </span>
              </li>
            ))}
        </ul>
      )}
    </Card>
  )
}
