import { useState } from 'react'
import {
  BACKLIGHTS,
  PANEL_IDS,
  simulationSchema,
  type Backlight,
  type PanelId,
  type RigTarget,
} from '#shared/domain/rig.ts'
import { useHostState } from '../../client/host.tsx'
import { useHostQuery } from '../../client/queries.ts'
import { Action, Segmented } from '../../ui/controls.tsx'
import { FieldRow, SelectInput, SwitchInput, TextInput } from '../../ui/fields.tsx'
import { parseNumber } from '../../ui/parse-number.ts'
import { BACKLIGHT_WORDS, PANEL_WORDS } from '../../ui/words.ts'

const BAUD_RATES = ['9600', '57600', '115200', '230400', '460800', '921600', '2000000', '3000000'] as const

interface RigFormProps {
  readonly busy: boolean
  readonly onConnect: (target: RigTarget) => void
}

export function RigForm(props: RigFormProps) {
  const last = useHostState(({ rig }) => rig.target?.kind ?? 'simulated')
  const [kind, setKind] = useState(last)
  return (
    <div className="stack">
      <Segmented
        label="Kind of rig"
        value={kind}
        onChange={setKind}
        choices={[
          { id: 'simulated', label: 'Simulated' },
          { id: 'serial', label: 'Serial port' },
        ]}
      />
      {kind === 'simulated' ? <SimulatedForm {...props} /> : <SerialForm {...props} />}
    </div>
  )
}

function SimulatedForm({ busy, onConnect }: RigFormProps) {
  const [panel, setPanel] = useState<PanelId>('swift')
  const [backlight, setBacklight] = useState<Backlight>('steady')
  const [pwm, setPwm] = useState('240')
  const [noise, setNoise] = useState('2')
  const [second, setSecond] = useState(false)
  const pwmHz = parseNumber(pwm)
  const noiseMv = parseNumber(noise)
  const pwmError = backlight === 'pwm' && (pwmHz === null || pwmHz < 50 || pwmHz > 20_000) ? '50 to 20000.' : undefined
  const noiseError = noiseMv === null || noiseMv < 0 || noiseMv > 1000 ? '0 to 1000.' : undefined
  const connect = () =>
    onConnect({
      kind: 'simulated',
      simulation: simulationSchema.parse({
        panel,
        backlight,
        eventChannel: second,
        noiseV: Number(((noiseMv ?? 0) / 1000).toPrecision(12)),
        ...(backlight === 'pwm' && pwmHz !== null ? { pwmHz } : {}),
      }),
    })
  return (
    <>
      <p className="hint">An invented display and a simulated digitizer, for trying things out.</p>
      <FieldRow>
        <SelectInput
          label="Panel"
          value={panel}
          onChange={setPanel}
          choices={PANEL_IDS.map((id) => ({ id, label: PANEL_WORDS[id] }))}
        />
        <TextInput
          label="Noise"
          unit="mV rms"
          inputMode="decimal"
          value={noise}
          onChange={setNoise}
          error={noiseError}
        />
      </FieldRow>
      <FieldRow>
        <SelectInput
          label="Backlight"
          value={backlight}
          onChange={setBacklight}
          choices={BACKLIGHTS.map((id) => ({ id, label: BACKLIGHT_WORDS[id] }))}
        />
        {backlight === 'pwm' ? (
          <TextInput label="Frequency" unit="Hz" inputMode="decimal" value={pwm} onChange={setPwm} error={pwmError} />
        ) : null}
      </FieldRow>
      <SwitchInput label="Second channel, for input events" isSelected={second} onChange={setSecond} />
      <Action
        tone="main"
        isPending={busy}
        isDisabled={pwmError !== undefined || noiseError !== undefined}
        onPress={connect}
      >
        {busy ? 'Connecting…' : 'Connect simulated rig'}
      </Action>
    </>
  )
}

/** Stands in the list for a path that is typed: pseudo-terminals and links made by rules are not listed by the system. */
const TYPED = 'typed'

function SerialForm({ busy, onConnect }: RigFormProps) {
  const ports = useHostQuery(['ports'], (client, signal) => client.rig.ports(undefined, { signal }), { staleMs: 0 })
  const [choice, setChoice] = useState<string | null>(null)
  const [typed, setTyped] = useState('')
  const [baud, setBaud] = useState<(typeof BAUD_RATES)[number]>('115200')
  const list = ports.data ?? []
  const chosen = choice ?? (list.length === 0 ? TYPED : null)
  const path = chosen === TYPED ? typed.trim() : (chosen ?? '')
  return (
    <>
      <FieldRow>
        <SelectInput
          label="Port"
          value={chosen}
          onChange={setChoice}
          choices={[
            ...list.map((port) => ({ id: port.path, label: port.path, note: port.label })),
            { id: TYPED, label: 'Other…', note: 'Type its path or name' },
          ]}
        />
        <SelectInput
          label="Baud rate"
          unit="Bd"
          value={baud}
          onChange={setBaud}
          choices={BAUD_RATES.map((id) => ({ id, label: id }))}
        />
      </FieldRow>
      {chosen === TYPED ? (
        <TextInput label="Path of the port" value={typed} onChange={setTyped} maxLength={300} />
      ) : null}
      {list.length === 0 && !ports.isFetching ? (
        <p className="hint">No port found. Plug the digitizer in, then look again. It must speak SCPI.</p>
      ) : null}
      <div className="row">
        <Action
          tone="main"
          isPending={busy}
          isDisabled={path === ''}
          onPress={() => onConnect({ kind: 'serial', path, baudRate: Number(baud) })}
        >
          {busy ? 'Connecting…' : 'Connect'}
        </Action>
        <Action isPending={ports.isFetching} onPress={() => void ports.refetch()}>
          Look again
        </Action>
      </div>
    </>
  )
}
