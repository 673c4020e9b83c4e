import type { RigState, RigTarget } from '#shared/domain/rig.ts'
import { useHostState } from '../../client/host.tsx'
import { useCommand } from '../../client/use-command.ts'
import { Action, Card, StatusDot } from '../../ui/controls.tsx'
import { plural } from '../../ui/format.ts'
import { BACKLIGHT_WORDS, isActive, PANEL_WORDS, RIG_STATUS_WORDS } from '../../ui/words.ts'
import { RigForm } from './rig-form.tsx'
import { RIG_TONES, steadyStatus } from './status-strip.tsx'

export function RigCard() {
  const status = useHostState(steadyStatus)
  const problem = useHostState(({ rig }) => rig.problem)
  const sweeping = useHostState(({ sweep }) => sweep !== null && isActive(sweep.state))
  const connect = useCommand('The rig could not be connected', (client, target: RigTarget) =>
    client.rig.connect(target),
  )
  const disconnect = useCommand('The rig could not be disconnected', (client) => client.rig.disconnect())
  const attached = status === 'ready' || status === 'recording'
  return (
    <Card title="Rig" aside={<StatusDot tone={RIG_TONES[status]}>{RIG_STATUS_WORDS[status]}</StatusDot>}>
      {problem === null ? null : (
        <div className="problem" role="alert">
          <strong>{problem.message}</strong>
          <p>{problem.remedy}</p>
        </div>
      )}
      {attached || status === 'lost' ? <RigFacts /> : null}
      {attached ? (
        <Action isDisabled={sweeping} isPending={disconnect.busy} onPress={() => void disconnect.run()}>
          Disconnect
        </Action>
      ) : status === 'lost' ? (
        <Action isPending={disconnect.busy} onPress={() => void disconnect.run()}>
          Disconnect and choose another rig
        </Action>
      ) : (
        <RigForm busy={connect.busy || status === 'connecting'} onConnect={(target) => void connect.run(target)} />
      )}
    </Card>
  )
}

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
              <span className="rig-serial">serial {identity.serial},</span> firmware {identity.firmware}
            </span>
          </dd>
        </>
      )}
      {target === null ? null : (
        <>
          <dt>Connection</dt>
          <dd>{targetText(target)}</dd>
        </>
      )}
      <dt>Data lost</dt>
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
