import { useState } from 'react'
import { FileTrigger } from 'react-aria-components'
import type { ImportMapping } from '#shared/domain/import.ts'
import { describeError } from '../../client/errors.ts'
import { useHostQuery } from '../../client/queries.ts'
import { sendFile } from '../../client/send-file.ts'
import { useCommand } from '../../client/use-command.ts'
import { Action } from '../../ui/controls.tsx'
import { SelectInput, TextInput } from '../../ui/fields.tsx'
import { plural, significant } from '../../ui/format.ts'

export interface ChosenFile {
  readonly fileId: string
  readonly name: string
  readonly mapping: ImportMapping | null
}

const TIME_UNITS = { s: 1, ms: 1e-3, µs: 1e-6, ns: 1e-9 } as const
type TimeUnit = keyof typeof TIME_UNITS
const UNIT_CHOICES = (Object.keys(TIME_UNITS) as TimeUnit[]).map((id) => ({ id, label: id }))

/** A recording of a steady picture, made by another instrument. It is measured where it is and not stored. */
export function RecordingSource(props: {
  readonly file: ChosenFile | null
  readonly onFile: (file: ChosenFile | null) => void
}) {
  const { file, onFile } = props
  const [interval, setInterval] = useState('')
  const send = useCommand('The file could not be read', async (client, chosen: File) => ({
    fileId: await sendFile(client.files, chosen),
    name: chosen.name,
    mapping: null,
  }))
  const preview = useHostQuery(
    ['import-preview', 'light', file?.fileId, file?.mapping],
    (client, signal) =>
      client.files.importPreview(
        { fileId: file?.fileId ?? '', name: file?.name ?? '', mapping: file?.mapping ?? null },
        { signal },
      ),
    { enabled: file !== null, keep: true },
  )
  const read = file === null ? null : (preview.data ?? null)
  const mapping = read?.mapping ?? null
  const unit = UNIT_CHOICES.find(({ id }) => TIME_UNITS[id] === mapping?.timeScaleS)?.id ?? null
  const intervalUs = Number(interval)
  return (
    <>
      <FileTrigger
        acceptedFileTypes={['.csv', '.txt', '.tsv', '.dat']}
        onSelect={(list) => {
          const chosen = list?.[0]
          if (chosen === undefined) return
          setInterval('')
          void (async () => {
            const sent = await send.run(chosen)
            if (sent !== null) onFile(sent)
          })()
        }}
      >
        <Action tone={file === null ? 'main' : 'plain'} isPending={send.busy}>
          Choose a CSV file…
        </Action>
      </FileTrigger>
      {file === null ? (
        <p className="hint">
          A free-running recording of a steady picture: 8 periods or more, at 4 kS/s or faster; a minute for PstLM. It
          is not stored.
        </p>
      ) : (
        <p className="light-file">
          <strong>{file.name}</strong>
          {read === null || read.problem !== null || read.sampleRateHz === 0 ? null : (
            <span className="minor">
              {' '}
              {plural(read.sampleCount, 'sample')} at {significant(read.sampleRateHz / 1000, 4)} kS/s
            </span>
          )}
        </p>
      )}
      {preview.error === null || file === null ? null : (
        <p className="problem">{describeError(preview.error).message}</p>
      )}
      {mapping === null ? null : mapping.timeColumn === null ? (
        <TextInput
          label="Sample interval"
          unit="µs"
          inputMode="decimal"
          value={interval}
          hint="The file has no time column."
          error={interval !== '' && !(intervalUs > 0) ? 'A number above 0.' : undefined}
          onChange={(text) => {
            setInterval(text)
            const us = Number(text)
            if (file !== null && us > 0) onFile({ ...file, mapping: { ...mapping, sampleIntervalS: us * 1e-6 } })
          }}
        />
      ) : (
        <SelectInput
          label="Time in"
          value={unit}
          choices={UNIT_CHOICES}
          onChange={(id) => {
            if (file !== null) onFile({ ...file, mapping: { ...mapping, timeScaleS: TIME_UNITS[id] } })
          }}
        />
      )}
    </>
  )
}
