import { memo } from 'react'
import { MEASURES, type MeasureId } from '#shared/domain/measures.ts'
import type { FlagId, Result } from '#shared/domain/result.ts'
import { printMeasure, UNDEFINED_TEXT } from '../../ui/format.ts'
import { FLAG_WORDS } from '../../ui/words.ts'
import { ComparedTable } from './compared-table.tsx'
import { differenceText, isSeen } from './difference-text.ts'

const SHOWN: readonly MeasureId[] = [
  'transition_duration_s',
  'arrival_s',
  'settling_s',
  'overshoot_pct',
  'undershoot_pct',
  'in_window',
  'first_frame_completion_pct',
  'integrated_error_s',
  'blur_edge_s',
  'transition_duration_corrected_s',
  'step_v',
  'snr',
]

export interface NumbersComparedProps {
  /** Under the recipe that all screens use. */
  readonly old: Result | null
  readonly edited: Result | null
  readonly oldName: string
  readonly editedName: string
}

/** One capture's numbers under the recipe in use and under the edited one. Undefined ones say why. */
export const NumbersCompared = memo(function NumbersCompared(props: NumbersComparedProps) {
  const { old, edited } = props
  return (
    // A scrolling region has to be reachable by keyboard.
    // oxlint-disable-next-line jsx-a11y/no-noninteractive-tabindex
    <div className="numbers-compared" tabIndex={0} role="group" aria-label="Numbers under both recipes">
      <ComparedTable
        label="Numbers of the example"
        heads={['Measure', 'In use', 'Edited', 'Difference']}
        titles={{ 'In use': props.oldName, Edited: props.editedName }}
      >
        {SHOWN.map((id) => (
          <Row key={id} id={id} old={old} edited={edited} />
        ))}
        <FlagsRow old={old} edited={edited} />
      </ComparedTable>
    </div>
  )
})

function Row({ id, old, edited }: { id: MeasureId; old: Result | null; edited: Result | null }) {
  const [a, b] = [old?.values[id] ?? null, edited?.values[id] ?? null]
  if (a === null && b === null && id === 'transition_duration_corrected_s') return null
  const moved = a === null || b === null ? a !== b : isSeen(id, b - a)
  return (
    <tr data-moved={moved}>
      <th scope="row" title={MEASURES[id].meaning}>
        {MEASURES[id].label}
      </th>
      <Value id={id} result={old} />
      <Value id={id} result={edited} />
      <td className="align-end digits">{a === null || b === null ? '' : movedText(id, b - a)}</td>
    </tr>
  )
}

function movedText(id: MeasureId, difference: number): string {
  if (id !== 'in_window' || difference === 0) return differenceText(id, difference)
  return difference > 0 ? 'now inside' : 'now outside'
}

function Value({ id, result }: { id: MeasureId; result: Result | null }) {
  const value = result?.values[id] ?? null
  if (value === null) {
    const reason = result === null ? '' : (result.reasons[id] ?? 'Not defined for this trace.')
    return (
      <td className="align-end digits" title={reason}>
        {UNDEFINED_TEXT}
        <span className="visually-hidden"> {reason}</span>
      </td>
    )
  }
  if (id === 'in_window') return <td className="align-end digits">{value >= 0.5 ? 'yes' : 'no'}</td>
  const { text, unit } = printMeasure(id, value)
  return (
    <td className="align-end digits">
      {text}
      <span className="field-unit"> {unit}</span>
    </td>
  )
}

const idsOf = (result: Result | null): readonly FlagId[] => [...new Set(result?.flags.map(({ id }) => id))]

function FlagsRow({ old, edited }: { old: Result | null; edited: Result | null }) {
  const [a, b] = [idsOf(old), idsOf(edited)]
  const gained = b.filter((id) => !a.includes(id))
  const lost = a.filter((id) => !b.includes(id))
  const words = [...gained.map((id) => `+ ${FLAG_WORDS[id]}`), ...lost.map((id) => `− ${FLAG_WORDS[id]}`)]
  return (
    <tr data-moved={words.length > 0}>
      <th scope="row">Flags</th>
      <td className="align-end" title={old?.flags.map(({ evidence }) => evidence).join('\n')}>
        {a.length === 0 ? 'none' : a.map((id) => FLAG_WORDS[id]).join(', ')}
      </td>
      <td className="align-end" title={edited?.flags.map(({ evidence }) => evidence).join('\n')}>
        {b.length === 0 ? 'none' : b.map((id) => FLAG_WORDS[id]).join(', ')}
      </td>
      <td className="align-end">{words.join(', ')}</td>
    </tr>
  )
}
