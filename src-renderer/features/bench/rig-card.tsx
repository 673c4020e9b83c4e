import { memo } from 'react'
import type { RigState, RigStatus, RigTarget } from '#shared/domain/rig.ts'
import type { HostState } from '#shared/domain/views.ts'
import { useHostState } from '../../client/host.tsx'
import { useCommand } from '../../client/use-command.ts'
import { Action, Card, StatusDot } from '../../ui/controls.tsx'
import { SwitchInput } from '../../ui/fields.tsx'
import { plural } from '../../ui/format.ts'
import { BACKLIGHT_WORDS, isActive, PANEL_WORDS, RIG_STATUS_WORDS } from '../../ui/words.ts'
import { RigForm } from './rig-form.tsx'

const TONES = { absent: 'idle', connecting: 'warn', ready: 'good', recording: 'good', lost: 'bad' } as const

/** While monitor or sweep record again and again, the rests between two recordings are not worth a flicker. */
function steadyStatus({ rig, monitoring, sweep }: HostState): RigStatus {
  const repeats = monitoring || (sweep !== null && isActive(sweep.state))
  return rig.status === 'ready' && repeats ? 'recording' : rig.status
}

export const RigCard = memo(function RigCard() {
  const status = useHostState(steadyStatus)
  const problem = useHostState(({ rig }) => rig.problem)
  const monitoring = useHostState((state) => state.monitoring)
  const sweeping = useHostState(({ sweep }) => sweep !== null && isActive(sweep.state))
  const connect = useCommand('The rig could not be connected', (client, target: RigTarget) =>
    client.rig.connect(target),
  )
  const disconnect = useCommand('The rig could not be disconnected', (client) => client.rig.disconnect())
  const monitor = useCommand('The monitor could not be switched', (client, on: boolean) => client.rig.monitor({ on }))
  const attached = status === 'ready' || status === 'recording'
  return (
    <Card title="Rig" aside={<StatusDot tone={TONES[status]}>{RIG_STATUS_WORDS[status]}</StatusDot>}>
      {problem === null ? null : (
        <div className="problem" role="alert">
          <strong>{problem.message}</strong>
          <p>{problem.remedy}</p>
        </div>
      )}
      {attached || status === 'lost' ? <RigFacts /> : null}
      {attached ? (
        <>
          <SwitchInput
            label="Monitor"
            hint={
              sweeping
                ? 'The sweep uses the rig.'
                : 'Records again and again without storing anything, for aiming the sensor.'
            }
            isSelected={monitoring}
            isDisabled={sweeping || monitor.busy}
            onChange={(on) => void monitor.run(on)}
          />
          <Action isDisabled={sweeping} isPending={disconnect.busy} onPress={() => void disconnect.run()}>
            Disconnect
          </Action>
        </>
      ) : status === 'lost' ? (
        <Action isPending={disconnect.busy} onPress={() => void disconnect.run()}>
          Give it up and choose another
        </Action>
      ) : (
        <RigForm busy={connect.busy || status === 'connecting'} onConnect={(target) => void connect.run(target)} />
      )}
    </Card>
  )
})

function RigFacts() {
  const identity = useHostState(({ rig }): RigState['identity'] => rig.identity)
  const target = useHostState(({ rig }) => rig.target)
  const losses = useHostState(({ rig }) => rig.losses)
  return (
    <dl className="facts">
      {identity === null ? null : (
        <>
          <dt>Identity</dt>
          <dd>
            {identity.manufacturer} {identity.model}
            <span className="minor">
              {' '}
              serial {identity.serial}, firmware {identity.firmware}
            </span>
          </dd>
        </>
      )}
      {target === null ? null : (
        <>
          <dt>Line</dt>
          <dd>{targetText(target)}</dd>
        </>
      )}
      <dt>Losses</dt>
      <dd className={losses > 0 ? 'warn-text' : ''}>
        {losses === 0 ? 'none' : `${plural(losses, 'block')} thrown away`}
      </dd>
    </dl>
  )
}

function targetText(target: RigTarget): string {
  if (target.kind === 'serial') return `${target.path}, ${target.baudRate} Bd`
  const { panel, backlight, noiseV } = target.simulation
  return `simulated, panel ${PANEL_WORDS[panel]}, ${BACKLIGHT_WORDS[backlight].toLowerCase()} backlight, noise ${Number(
    (noiseV * 1000).toPrecision(6),
  )} mV`
}
