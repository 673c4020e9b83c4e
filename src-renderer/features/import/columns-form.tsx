import { useState } from 'react'
import type { ImportMapping, ImportPreview } from '#shared/domain/import.ts'
import { Action } from '../../ui/controls.tsx'
import { FieldRow, SelectInput, TextInput } from '../../ui/fields.tsx'
import { plural } from '../../ui/format.ts'
import { useDesk } from './desk.ts'
import { decimalNumber, wholeNumber, withChange, type Row } from './desk-model.ts'

const DELIMITERS: readonly { id: ImportMapping['delimiter']; label: string }[] = [
  { id: ',', label: 'comma' },
  { id: ';', label: 'semicolon' },
  { id: '\t', label: 'tab' },
  { id: '|', label: 'bar |' },
  { id: ' ', label: 'spaces' },
]
const DECIMALS: readonly { id: ImportMapping['decimal']; label: string }[] = [
  { id: '.', label: 'point' },
  { id: ',', label: 'comma' },
]
const TIME_UNITS = { s: 1, ms: 1e-3, µs: 1e-6, ns: 1e-9, min: 60 } as const
const VOLTAGE_UNITS = { V: 1, mV: 1e-3, µV: 1e-6, kV: 1e3 } as const
const NO_TIME = 'none'
const NO_UNIT = 'unknown'

const unitChoices = (units: Readonly<Record<string, number>>, value: number) => [
  ...Object.keys(units).map((unit) => ({ id: unit, label: unit })),
  // A scale that is no unit's can come from elsewhere; it is shown as it is.
  ...(Object.values(units).includes(value) ? [] : [{ id: String(value), label: `× ${value}` }]),
]
const unitOf = (units: Readonly<Record<string, number>>, value: number): string =>
  Object.entries(units).find(([, scale]) => scale === value)?.[0] ?? String(value)
const scaleOf = (units: Readonly<Record<string, number>>, id: string): number => units[id] ?? Number(id)

/** How the columns are read, the first rows beside it; every change shows at once and can be undone. */
export function ColumnsForm({ chosen, preview }: { chosen: readonly Row[]; preview: ImportPreview }) {
  const desk = useDesk()
  const { mapping } = preview
  const unreadable = preview.problem !== null
  // What is being typed; null shows what is in force.
  const [typedHeader, setTypedHeader] = useState<string | null>(null)
  const [typedInterval, setTypedInterval] = useState<string | null>(null)
  const headerText = typedHeader ?? String(mapping.headerLines)
  const intervalText =
    typedInterval ??
    (mapping.sampleIntervalS === null ? '' : String(Number((mapping.sampleIntervalS * 1e6).toPrecision(12))))
  const keys = new Set(chosen.map(({ key }) => key))
  const set = (change: Partial<ImportMapping>) =>
    desk.say(keys, `columns of ${plural(keys.size, 'recording')}`, `columns ${Object.keys(change).join()}`, (entry) => {
      const own = chosen.find(({ key }) => key === entry.key)
      return { mapping: withChange(entry.hand.mapping ?? own?.preview?.mapping ?? mapping, change) }
    })
  const columnChoices = preview.columns.map(({ index, name, sample }) => ({
    id: String(index),
    label: `${index + 1}${name === '' ? '' : ` – ${name}`}`,
    ...(sample[0] === undefined || sample[0] === '' ? {} : { note: `begins with ${sample[0]}` }),
  }))
  const headerWrong = wholeNumber(headerText, 0, 500) === null
  const interval = decimalNumber(intervalText)
  const intervalWrong = interval === null || !(interval > 0)
  const guessed = chosen.every(({ hand }) => hand.mapping === null)
  return (
    <section className="columns-form" aria-label="Columns">
      <header className="card-head">
        <h3>Columns</h3>
        <span className="minor">{guessed ? (unreadable ? 'not found' : 'detected') : 'set by hand'}</span>
        <span className="pane-space" />
        <Action
          size="small"
          isDisabled={guessed}
          onPress={() => {
            setTypedHeader(null)
            setTypedInterval(null)
            desk.say(keys, 'the columns', 'guess', () => ({ mapping: null }))
          }}
        >
          Detect again
        </Action>
      </header>
      <div className="columns-fields">
        <SelectInput
          label="Time column"
          value={mapping.timeColumn === null ? NO_TIME : String(mapping.timeColumn)}
          onChange={(id) => set({ timeColumn: id === NO_TIME ? null : Number(id) })}
          choices={[...columnChoices, { id: NO_TIME, label: 'no time column', note: 'the sample interval is given' }]}
        />
        {mapping.timeColumn === null ? (
          <TextInput
            label="Sample interval"
            unit="µs"
            inputMode="decimal"
            value={intervalText}
            error={typedInterval !== null && intervalWrong ? 'A number above 0.' : undefined}
            onChange={(text) => {
              setTypedInterval(text)
              const given = decimalNumber(text)
              if (given !== null && given > 0) set({ sampleIntervalS: Number((given * 1e-6).toPrecision(15)) })
            }}
          />
        ) : (
          <SelectInput
            label="Time in"
            value={mapping.timeScaleS === null ? NO_UNIT : unitOf(TIME_UNITS, mapping.timeScaleS)}
            onChange={(id) => {
              if (id !== NO_UNIT) set({ timeScaleS: scaleOf(TIME_UNITS, id) })
            }}
            choices={
              mapping.timeScaleS === null
                ? [{ id: NO_UNIT, label: 'which unit?' }, ...unitChoices(TIME_UNITS, 1)]
                : unitChoices(TIME_UNITS, mapping.timeScaleS)
            }
          />
        )}
        <SelectInput
          label="Voltage column"
          value={String(mapping.voltageColumn)}
          onChange={(id) => set({ voltageColumn: Number(id) })}
          choices={columnChoices}
        />
        <SelectInput
          label="Voltage in"
          value={unitOf(VOLTAGE_UNITS, mapping.voltageScaleV)}
          onChange={(id) => set({ voltageScaleV: scaleOf(VOLTAGE_UNITS, id) })}
          choices={unitChoices(VOLTAGE_UNITS, mapping.voltageScaleV)}
        />
      </div>
      <FieldRow>
        <SelectInput
          label="Between columns"
          value={mapping.delimiter}
          onChange={(delimiter) => set({ delimiter })}
          choices={DELIMITERS}
        />
        <SelectInput
          label="Decimal sign"
          value={mapping.decimal}
          onChange={(decimal) => set({ decimal })}
          choices={DECIMALS}
        />
        <TextInput
          label="Lines above the numbers"
          inputMode="numeric"
          maxLength={3}
          value={headerText}
          error={headerWrong ? 'A whole number from 0 to 500.' : undefined}
          onChange={(text) => {
            setTypedHeader(text)
            const given = wholeNumber(text, 0, 500)
            if (given !== null) set({ headerLines: given })
          }}
        />
      </FieldRow>
      <FirstRows preview={preview} />
    </section>
  )
}

function FirstRows({ preview }: { preview: ImportPreview }) {
  const { mapping, columns } = preview
  // Columns that cannot be read as they are have no role yet.
  const roleOf = (index: number): string =>
    preview.problem !== null
      ? ''
      : index === mapping.timeColumn
        ? 'time'
        : index === mapping.voltageColumn
          ? 'voltage'
          : ''
  const height = Math.max(0, ...columns.map(({ sample }) => sample.length))
  return (
    // Wide tables scroll, and the keyboard can scroll them.

    <div className="first-rows" role="region" aria-label="First rows of the file" tabIndex={0}>
      <table className="data-table">
        <thead>
          <tr>
            {columns.map(({ index, name }) => (
              <th key={index} scope="col" data-role={roleOf(index)}>
                {index + 1}
                {name === '' ? '' : ` ${name}`}
                {roleOf(index) === '' ? null : <span className="role-mark"> {roleOf(index)}</span>}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {Array.from({ length: height }, (_, row) => (
            <tr key={row}>
              {columns.map(({ index, sample }) => (
                <td key={index} data-role={roleOf(index)}>
                  {sample[row] ?? ''}
                </td>
              ))}
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  )
}
