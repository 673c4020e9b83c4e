import { useState } from 'react'
import { FileTrigger, Label, TextArea, TextField } from 'react-aria-components'
import { toErrorDetail, type ErrorDetail } from '#shared/domain/errors.ts'
import { newReadingSchema } from '#shared/domain/reading.ts'
import { meteredColumn, recordKind, seriesOf, type RecordKindId } from '#shared/domain/record-kinds.ts'
import { spectraReadings } from '#shared/import/spectra-readings.ts'
import { ABSOLUTE, readRecordTable, type RecordMapping, type RecordTable } from '#shared/import/record-rows.ts'
import { useCommand } from '../../client/use-command.ts'
import { Action } from '../../ui/controls.tsx'
import { FieldRow, SelectInput, TextInput } from '../../ui/fields.tsx'
import { parseNumber } from '../../ui/parse-number.ts'
import { MeterRow } from './meter-row.tsx'
import { placeValue } from './place-value.ts'
import { RecordDialog } from './record-dialog.tsx'
import { RGB_SCALES, type RgbScale } from './rgb-scales.ts'
import { textOfFile } from './text-of-file.ts'
import { plural } from '#shared/domain/quantity-text.ts'

const STATES_OF_DISPLAY = ['As delivered', 'Before calibration', 'After calibration'] as const
const SCALES = [
  { id: 'absolute', label: 'XYZ in cd/m²' },
  { id: 'relative', label: 'XYZ relative, white is Y = 100' },
] as const

interface Read {
  readonly table: RecordTable | null
  readonly series: readonly number[]
  readonly problem: ErrorDetail | null
}

function read(kind: RecordKindId, text: string, mapping: RecordMapping): Read {
  if (text.trim() === '') return { table: null, series: [], problem: null }
  try {
    const table = readRecordTable(kind, text, mapping)
    return { table, series: seriesOf(kind, table.rows), problem: null }
  } catch (error) {
    return { table: null, series: [], problem: toErrorDetail(error) }
  }
}

interface EntryFormProps {
  readonly campaignId: number
  readonly kind: RecordKindId
  readonly onClose: () => void
}

/** Rows typed, pasted or from a file, checked while they are entered; stored as one reading with where they come from. */
export function EntryForm({ campaignId, kind, onClose }: EntryFormProps) {
  const { label, unit, columns, how } = recordKind(kind)
  const colour = kind === 'colour-patches'
  const [text, setText] = useState('')
  const [file, setFile] = useState('')
  const [state, setState] = useState<(typeof STATES_OF_DISPLAY)[number]>('As delivered')
  const [scale, setScale] = useState<'absolute' | 'relative' | null>(null)
  const [rgb, setRgb] = useState<RgbScale>('255')
  const [white, setWhite] = useState('')
  const [u, setU] = useState('')
  const [place, setPlace] = useState('')
  const [source, setSource] = useState('')
  const metered = meteredColumn(kind)
  const whiteLuminance = parseNumber(white)
  const uncertainty = u.trim() === '' ? null : parseNumber(u)
  const asks = colour && (scale === null || (scale === 'relative' && !(whiteLuminance !== null && whiteLuminance > 0)))
  const mapping: RecordMapping = colour
    ? { rgbMax: Number(rgb) as 1 | 100 | 255, whiteLuminance: scale === 'relative' ? whiteLuminance : null }
    : ABSOLUTE
  const { table, series, problem } = read(kind, text, mapping)
  const add = useCommand(`${label} could not be stored`, (client) => {
    const reading = newReadingSchema.parse({
      campaignId,
      kind,
      quantity: colour ? state : label,
      unit,
      series: [...series],
      u: uncertainty,
      source: [source.trim(), table?.origin ?? '', file]
        .filter((part) => part !== '')
        .join('; ')
        .slice(0, 200),
      place: place.trim(),
      at: new Date().toISOString(),
    })
    return client.readings.addAll({ readings: [reading, ...spectraReadings(reading, table?.spectra ?? [])] })
  })
  const store = async () => {
    if ((await add.run()) !== null) onClose()
  }
  const load = async (chosen: File | undefined) => {
    if (chosen === undefined) return
    setFile(chosen.name)
    try {
      setText(await textOfFile(chosen))
    } catch (error) {
      setText('')
      setFile(`${chosen.name}: ${toErrorDetail(error).message}`)
    }
  }
  return (
    <RecordDialog
      title={`Add ${label.toLowerCase()}`}
      action={table === null ? 'Store' : `Store ${plural(table.rows.length, 'row')}`}
      possible={table !== null && !asks && (u.trim() === '' || (uncertainty !== null && uncertainty >= 0))}
      busy={add.busy}
      onAction={() => void store()}
      onClose={onClose}
    >
      <p className="hint">{how}</p>
      {colour ? (
        <>
          <SelectInput
            label="State of the display"
            value={state}
            choices={STATES_OF_DISPLAY.map((id) => ({ id, label: id }))}
            onChange={setState}
          />
          <FieldRow>
            <SelectInput
              label="Scale of the colours"
              value={scale}
              choices={SCALES}
              onChange={setScale}
              hint="Needed: files do not state it reliably."
            />
            <SelectInput label="RGB values" value={rgb} choices={RGB_SCALES} onChange={setRgb} />
          </FieldRow>
          {scale === 'relative' ? (
            <TextInput label="Luminance of white" unit="cd/m²" inputMode="decimal" value={white} onChange={setWhite} />
          ) : null}
        </>
      ) : null}
      <TextField className="field" value={text} onChange={setText}>
        <Label className="field-label">
          Rows:{' '}
          {columns.map((column) => `${column.label}${column.unit === '1' ? '' : ` (${column.unit})`}`).join(' · ')}
        </Label>
        <TextArea className="input record-rows" rows={5} spellCheck={false} />
      </TextField>
      <div className="record-file">
        <FileTrigger onSelect={(files) => void load(files?.[0])}>
          <Action>{colour ? 'Choose a CGATS or CSV file…' : 'Choose a CSV file…'}</Action>
        </FileTrigger>
        <span className="hint">{file}</span>
      </div>
      <p role="status" className={problem === null ? 'hint' : 'field-error'}>
        {problem !== null
          ? `${problem.message} ${problem.remedy}`
          : table === null
            ? 'One row a line; tab, semicolon, comma or blanks between the values.'
            : [`${plural(table.rows.length, 'row')} read.`, ...table.warnings].join(' ')}
      </p>
      {metered === null ? null : (
        <MeterRow
          isPower={kind === 'power'}
          onRead={(value, identity) => {
            setText(placeValue(text, value, metered, columns.length))
            setSource(identity.slice(0, 100))
          }}
        />
      )}
      <FieldRow>
        {kind === 'strobe-by-place' ? null : (
          <TextInput
            label="Standard uncertainty of each value"
            unit={unit}
            inputMode="decimal"
            value={u}
            onChange={setU}
          />
        )}
        <TextInput
          label={kind === 'power' ? 'Picture shown' : 'Place'}
          value={place}
          onChange={setPlace}
          maxLength={200}
        />
      </FieldRow>
      <TextInput label="Instrument or source" value={source} onChange={setSource} maxLength={100} />
    </RecordDialog>
  )
}
