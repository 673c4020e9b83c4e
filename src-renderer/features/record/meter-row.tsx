import { useState } from 'react'
import { toErrorDetail } from '#shared/domain/errors.ts'
import { meterAt } from '#shared/domain/meter.ts'
import { useCommand } from '../../client/use-command.ts'
import { useNotices } from '../../client/notices.tsx'
import { Action } from '../../ui/controls.tsx'
import { FieldRow, TextInput } from '../../ui/fields.tsx'

/** Asks a meter that speaks SCPI for one number, instead of typing it. */
export function MeterRow(props: {
  readonly isPower: boolean
  readonly onRead: (value: number, identity: string) => void
}) {
  const { isPower, onRead } = props
  const [where, setWhere] = useState('')
  const [query, setQuery] = useState(isPower ? 'MEAS:POW?' : 'MEAS?')
  const [wrong, setWrong] = useState('')
  const title = 'The meter could not be read'
  const notices = useNotices()
  const read = useCommand(title, (client) => client.readings.meter({ meter: meterAt(where), query }))
  const ask = async (): Promise<void> => {
    try {
      meterAt(where)
      setWrong('')
    } catch (error) {
      setWrong(toErrorDetail(error).remedy)
      return
    }
    notices.settle(title)
    const answer = await read.run()
    if (answer !== null) onRead(answer.value, answer.identity)
  }
  return (
    <div className="meter-row">
      <FieldRow>
        <TextInput
          label="Meter"
          value={where}
          onChange={setWhere}
          placeholder="tcp://10.0.0.7:5025"
          hint="Or a serial port: /dev/ttyUSB0,9600"
          maxLength={300}
          {...(wrong === '' ? {} : { error: wrong })}
        />
        <TextInput label="Query sent (SCPI)" value={query} onChange={setQuery} maxLength={100} />
      </FieldRow>
      <Action isPending={read.busy} isDisabled={where.trim() === ''} onPress={() => void ask()}>
        {isPower ? 'Read the power analyser' : 'Read the luminance meter'}
      </Action>
    </div>
  )
}
