import type { MeasureId } from '#shared/domain/measures.ts'
import type { Result } from '#shared/domain/result.ts'
import { MEASURES } from '#shared/domain/measures.ts'
import { printMeasure, UNDEFINED_TEXT } from '../../ui/format.ts'
import { FLAG_WORDS } from '../../ui/words.ts'

const SHOWN: readonly { readonly id: MeasureId; readonly label: string }[] = [
  { id: 'transition_duration_s', label: 'Duration' },
  { id: 'arrival_s', label: 'Arrival' },
  { id: 'settling_s', label: 'Settling' },
  { id: 'overshoot_pct', label: 'Overshoot' },
  { id: 'undershoot_pct', label: 'Undershoot' },
  { id: 'in_window', label: 'In window' },
  { id: 'snr', label: 'Step to noise' },
]

/** The capture's main numbers, large. An undefined one shows a dash and its reason. */
export function NumbersRow({ result, absent }: { result: Result | null; absent: string }) {
  return (
    <dl className="numbers" aria-label="Numbers of the trace shown">
      {SHOWN.map(({ id, label }) => (
        <Number key={id} id={id} label={label} result={result} absent={absent} />
      ))}
      <Flags result={result} />
    </dl>
  )
}

function Number({
  id,
  label,
  result,
  absent,
}: {
  id: MeasureId
  label: string
  result: Result | null
  absent: string
}) {
  const value = result?.values[id] ?? null
  const reason = result === null ? absent : (result.reasons[id] ?? 'Not defined for this trace.')
  const uncertainty = result?.uncertainties[id]
  return (
    <div className="number" title={value === null ? reason : MEASURES[id].meaning}>
      <dt>{label}</dt>
      {value === null ? (
        <dd>
          <span className="number-value number-undefined">{UNDEFINED_TEXT}</span>
          <span className="number-note">{reason}</span>
        </dd>
      ) : (
        <dd>
          <Value id={id} value={value} />
          <span className="number-note">
            {uncertainty === undefined
              ? ''
              : `u = ${printMeasure(id, uncertainty).text} ${printMeasure(id, uncertainty).unit}`}
          </span>
        </dd>
      )}
    </div>
  )
}

function Value({ id, value }: { id: MeasureId; value: number }) {
  if (id === 'in_window') return <span className="number-value">{value >= 0.5 ? 'yes' : 'no'}</span>
  const { text, unit } = printMeasure(id, value)
  return (
    <span className="number-value">
      {text}
      {unit === '' ? null : <span className="number-unit"> {unit}</span>}
    </span>
  )
}

function Flags({ result }: { result: Result | null }) {
  const flags = result?.flags ?? []
  return (
    <div className="number number-flags">
      <dt>Flags</dt>
      <dd>
        <span className={`number-value ${flags.length > 0 ? 'warn-text' : ''}`}>
          {result === null ? UNDEFINED_TEXT : flags.length}
        </span>
        <span className="number-note" title={flags.map((flag) => flag.evidence).join('\n')}>
          {flags.map((flag) => FLAG_WORDS[flag.id]).join(', ')}
        </span>
      </dd>
    </div>
  )
}
