import type { MeasureId } from '#shared/domain/measures.ts'
import type { Result } from '#shared/domain/result.ts'
import { MEASURES } from '#shared/domain/measures.ts'
import { milliseconds, printMeasured, printUncertainty, UNDEFINED_TEXT } from '../../ui/format.ts'
import { FLAG_WORDS } from '../../ui/words.ts'

const SHOWN: readonly { readonly id: MeasureId; readonly label: string }[] = [
  { id: 'transition_duration_s', label: 'Duration' },
  { id: 'arrival_s', label: 'Arrival' },
  { id: 'settling_s', label: 'Settling' },
  { id: 'overshoot_pct', label: 'Overshoot' },
  { id: 'undershoot_pct', label: 'Undershoot' },
  { id: 'in_window', label: 'In window' },
  { id: 'snr', label: 'Step/noise' },
]

/** The capture's main numbers, large. An undefined one shows a dash and its reason. */
export interface NumbersRowProps {
  readonly result: Result | null
  /** Longest time that is in window, s; null when unknown. */
  readonly windowS: number | null
  /** Why there is no result at all. */
  readonly absent: string
}

export function NumbersRow({ result, windowS, absent }: NumbersRowProps) {
  return (
    <dl className="numbers" aria-label="Numbers of the trace shown">
      {SHOWN.map(({ id, label }) => (
        <Number key={id} id={id} label={label} result={result} windowS={windowS} absent={absent} />
      ))}
      <Flags result={result} />
    </dl>
  )
}

function Number({ id, label, result, windowS, absent }: NumbersRowProps & { id: MeasureId; label: string }) {
  const value = result?.values[id] ?? null
  const reason = result === null ? absent : (result.reasons[id] ?? 'Not defined for this trace.')
  return (
    <div className="number" title={value === null ? reason : `${MEASURES[id].meaning} u: standard uncertainty.`}>
      <dt>{label}</dt>
      {value === null ? (
        <dd>
          <span className="number-value number-undefined">{UNDEFINED_TEXT}</span>
          <span className="number-note">{reason}</span>
        </dd>
      ) : (
        <dd>
          <Value id={id} value={value} u={result?.uncertainties[id]} />
          <span className="number-note">{noteOf(id, result, windowS)}</span>
        </dd>
      )}
    </div>
  )
}

/** The standard uncertainty, or what the value is judged against. */
function noteOf(id: MeasureId, result: Result | null, windowS: number | null): string {
  if (id === 'in_window') return windowS === null ? '' : `limit ${milliseconds(windowS)} ms`
  const [value, u] = [result?.values[id] ?? null, result?.uncertainties[id]]
  return u === undefined || value === null ? '' : `u ${printUncertainty(id, value, u)}`
}

/** With the decimals of its uncertainty, where that is known. */
function Value({ id, value, u }: { id: MeasureId; value: number; u: number | undefined }) {
  if (id === 'in_window') return <span className="number-value">{value >= 0.5 ? 'yes' : 'no'}</span>
  const { text, unit } = printMeasured(id, value, u)
  return (
    <span className="number-value">
      {text}
      {unit === '' ? null : <span className="minor"> {unit}</span>}
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
