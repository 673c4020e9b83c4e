import { useState } from 'react'
import type { StimulusState } from '#shared/domain/views.ts'
import { useHostState } from '../../client/host.tsx'
import { useHostQuery } from '../../client/queries.ts'
import { useCommand } from '../../client/use-command.ts'
import { Action, Card, Segmented, StatusDot } from '../../ui/controls.tsx'
import { SelectInput } from '../../ui/fields.tsx'
import { hertz } from '../../ui/format.ts'
import { isActive } from '../../ui/words.ts'

export function StimulusCard() {
  const stimulus = useHostState((state) => state.stimulus)
  const sweeping = useHostState(({ sweep }) => sweep !== null && isActive(sweep.state))
  const use = useCommand('The stimulus could not be changed', (client, kind: 'simulated' | 'page') =>
    client.stimulus.use({ kind }),
  )
  const realRig = useHostState(({ rig }) => rig.target?.kind === 'serial' && rig.target.controlPath === undefined)
  const onScreen = stimulus.kind === 'page' || stimulus.kind === 'window'
  return (
    <Card title="Stimulus" aside={<Readiness stimulus={stimulus} />}>
      {stimulus.problem === '' ? null : (
        <div className="problem" role="alert">
          <strong>{stimulus.problem}</strong>
        </div>
      )}
      <Segmented
        label="Where levels are shown"
        value={onScreen ? 'page' : stimulus.kind === 'simulated' ? 'simulated' : null}
        onChange={(kind) => {
          if (!sweeping) void use.run(kind)
        }}
        choices={[
          { id: 'simulated', label: 'Simulated display' },
          { id: 'page', label: 'A real screen' },
        ]}
      />
      {stimulus.kind === 'simulated' ? (
        <p className="hint">
          {realRig
            ? 'A real rig sees nothing of this: choose a real screen before a sweep.'
            : 'The simulated rig sees the levels directly; nothing is shown on a screen.'}
        </p>
      ) : (
        <>
          <dl className="facts">
            <dt>Refresh</dt>
            <dd>
              {stimulus.measuredHz === null
                ? 'not measured yet'
                : `${hertz(stimulus.measuredHz)} Hz over ${stimulus.frames} frames`}
            </dd>
            <dt>Level</dt>
            <dd>{stimulus.level ?? 'none shown'}</dd>
          </dl>
          <ScreenChoice connected={stimulus.connected} />
        </>
      )}
    </Card>
  )
}

function Readiness({ stimulus }: { stimulus: StimulusState }) {
  if (stimulus.kind === 'none') return <StatusDot tone="idle">None</StatusDot>
  if (stimulus.kind === 'simulated')
    return (
      <StatusDot tone={stimulus.connected ? 'good' : 'idle'}>
        {stimulus.connected ? 'Ready' : 'Waits for the rig'}
      </StatusDot>
    )
  if (!stimulus.connected) return <StatusDot tone="warn">Not open</StatusDot>
  if (!stimulus.fullScreen) return <StatusDot tone="warn">Not full screen</StatusDot>
  return <StatusDot tone="good">Ready</StatusDot>
}

function ScreenChoice({ connected }: { connected: boolean }) {
  const screens = useHostQuery(['screens'], (client, signal) => client.stimulus.screens(undefined, { signal }), {
    staleMs: 0,
  })
  const [screenId, setScreenId] = useState<string | null>(null)
  const open = useCommand('The stimulus window could not be opened', (client, id: number) =>
    client.stimulus.openWindow({ screenId: id }),
  )
  const close = useCommand('The stimulus window could not be closed', (client) => client.stimulus.closeWindow())
  const list = screens.data ?? []
  if (list.length === 0) {
    return (
      <p className="hint">
        Open{' '}
        <a href="./stimulus.html" target="slewlight-stimulus">
          the stimulus page
        </a>{' '}
        on the display under test and make it fill the screen. It attaches by itself.
      </p>
    )
  }
  const chosen = screenId ?? String((list.find((screen) => !screen.primary) ?? list[0])?.id ?? '')
  return (
    <>
      <SelectInput
        label="Screen under test"
        value={chosen}
        onChange={setScreenId}
        choices={list.map((screen) => ({
          id: String(screen.id),
          label: screen.label,
          note: `${hertz(screen.refreshHz)} Hz${screen.primary ? ', main screen' : ''}`,
        }))}
      />
      <div className="row">
        <Action isPending={open.busy} onPress={() => void open.run(Number(chosen))}>
          {connected ? 'Open again' : 'Open window'}
        </Action>
        {connected ? (
          <Action isPending={close.busy} onPress={() => void close.run()}>
            Close window
          </Action>
        ) : null}
      </div>
    </>
  )
}
