/** Aiming: levels shown by hand, the light they give as a number and against the range, and its trace. */
import { useState } from 'react'
import { DEFAULT_PLAN, sweepPlanSchema, type SweepPlan } from '#shared/domain/plan.ts'
import { useHostState } from '../../client/host.tsx'
import { useCommand } from '../../client/use-command.ts'
import { Action, Card } from '../../ui/controls.tsx'
import { SwitchInput, TextInput } from '../../ui/fields.tsx'
import { fixed } from '../../ui/format.ts'
import { parseNumber } from '../../ui/parse-number.ts'
import { isActive } from '../../ui/words.ts'
import { TraceView } from './trace-view.tsx'
import { useLive } from './use-live.ts'

/** Where white belongs, as shares of the range: room for overshoot above, steps large enough below. */
export const WHITE_LOW = 0.4
export const WHITE_HIGH = 0.8

export function AimCard({ plan }: { plan: SweepPlan | null }) {
  const monitoring = useHostState((state) => state.monitoring)
  const sweeping = useHostState(({ sweep }) => sweep !== null && isActive(sweep.state))
  const attached = useHostState(({ rig }) => rig.status === 'ready' || rig.status === 'recording')
  const level = useHostState(({ stimulus }) => stimulus.level)
  const [typed, setTyped] = useState('128')
  const monitor = useCommand('The monitor could not be switched', (client, on: boolean) =>
    client.rig.monitor({ on, ...(plan === null ? {} : { rangeV: plan.rangeV }) }),
  )
  const show = useCommand('The level could not be shown', async (client, code: number) => {
    const inHand = plan ?? sweepPlanSchema.parse(DEFAULT_PLAN)
    if (!monitoring) await client.rig.monitor({ on: true, rangeV: inHand.rangeV })
    return client.stimulus.show({ level: code, plan: inHand })
  })
  const simulated = useHostState(({ rig }) => rig.target?.kind === 'simulated')
  const [dark, setDark] = useState<number | null>(null)
  const readDark = useCommand('The dark level could not be read', async (client) => {
    // A simulated sensor is covered by the program; nobody can put a cap on it.
    if (simulated) await client.rig.inject({ fault: 'covered' })
    try {
      setDark((await client.rig.dark({ plan: plan ?? sweepPlanSchema.parse(DEFAULT_PLAN) })).meanV)
    } finally {
      if (simulated) await client.rig.inject({ fault: 'none' })
    }
  })
  const code = parseNumber(typed)
  const usable = code !== null && Number.isInteger(code) && code >= 0 && code <= 255
  const able = attached && !sweeping
  return (
    <Card
      title="Aim"
      className="aim-card"
      aside={
        <span className="aim-dark">
          <span className="minor" role="status">
            {dark === null ? 'Cover the sensor first.' : `Dark level ${fixed(1000 * dark, 2)} mV`}
          </span>
          <Action size="small" isDisabled={!able} isPending={readDark.busy} onPress={() => void readDark.run()}>
            Read dark level
          </Action>
        </span>
      }
    >
      <div className="aim-controls">
        <SwitchInput
          label="Monitor"
          isSelected={monitoring}
          isDisabled={!able || monitor.busy}
          onChange={(on) => void monitor.run(on)}
        />
        <span className="minor">Show</span>
        <Action isDisabled={!able} isPending={show.busy} onPress={() => void show.run(0)}>
          Black
        </Action>
        <Action isDisabled={!able} isPending={show.busy} onPress={() => void show.run(255)}>
          White
        </Action>
        <form
          className="aim-level"
          onSubmit={(event) => {
            event.preventDefault()
            if (usable && able) void show.run(code)
          }}
        >
          <TextInput
            label="Level"
            unit="code"
            inputMode="numeric"
            value={typed}
            onChange={setTyped}
            error={usable ? undefined : 'A whole number, 0 to 255.'}
          />
          <Action type="submit" isDisabled={!able || !usable} isPending={show.busy}>
            Show level
          </Action>
        </form>
        {level === null ? null : <span className="minor">Level {level} is shown.</span>}
      </div>
      {monitoring ? (
        <Monitor />
      ) : (
        <p className="hint">
          The monitor records again and again and stores nothing. Show white, move the sensor until the light is between{' '}
          {fixed(100 * WHITE_LOW, 0)} and {fixed(100 * WHITE_HIGH, 0)} % of the range, then show black and cover what
          light is left.
        </p>
      )}
    </Card>
  )
}

function Monitor() {
  const { frame, problem } = useLive(0)
  const shown = frame !== null && frame.captureId === null && frame.sweepId === null ? frame : null
  return (
    <>
      <Meter meanV={shown?.meanV ?? null} rangeV={shown?.rangeV ?? null} />
      <TraceView
        head={<span className="pane-space" />}
        name="the light as it is"
        shown={shown === null ? null : { ...shown, triggerS: null }}
        result={null}
        recipe={null}
        empty={problem === '' ? 'Waiting for the first recording.' : problem}
        absent={null}
      />
    </>
  )
}

/** Mean of the newest recording in volts and as a share of the range. */
function Meter({ meanV, rangeV }: { meanV: number | null; rangeV: number | null }) {
  const share = meanV === null || rangeV === null ? null : meanV / rangeV
  const at = share === null ? 0 : 100 * Math.min(1, Math.max(0, share))
  return (
    <div className="meter">
      <span className="meter-value" role="status" aria-label="Mean of the light">
        {meanV === null ? '—' : fixed(meanV, 3)} <span className="minor">V</span>
        <span className="meter-share">
          {share === null || rangeV === null ? '' : `${fixed(100 * share, 1)} % of ${rangeV} V`}
        </span>
      </span>
      <div className="meter-track" aria-hidden="true">
        <span
          className="meter-aim"
          style={{ insetInlineStart: `${100 * WHITE_LOW}%`, width: `${100 * (WHITE_HIGH - WHITE_LOW)}%` }}
        />
        <span className="meter-fill" style={{ width: `${at}%` }} />
      </div>
      <div className="meter-marks minor" aria-hidden="true">
        <span>0 V</span>
        <span className="meter-aim-name" style={{ insetInlineStart: `${50 * (WHITE_LOW + WHITE_HIGH)}%` }}>
          white: {fixed(100 * WHITE_LOW, 0)} to {fixed(100 * WHITE_HIGH, 0)} %
        </span>
        <span>{rangeV === null ? '' : `${rangeV} V`}</span>
      </div>
    </div>
  )
}
