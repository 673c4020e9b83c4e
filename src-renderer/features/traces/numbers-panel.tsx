import { MEASURE_IDS, MEASURES, type MeasureId } from '#shared/domain/measures.ts'
import type { Result } from '#shared/domain/result.ts'
import { EmptyState } from '../../ui/controls.tsx'
import { printMeasured, printUncertainty, UNDEFINED_TEXT } from '../../ui/format.ts'

export interface NumbersPanelProps {
  readonly recipeName: string
  /** The result that counts. */
  readonly result: Result | null
  /** The machine's own where marks were moved by hand. */
  readonly own: Result | null
  /** What the marks being moved would give. */
  readonly preview: Result | null
}

/** Every measure with unit, standard uncertainty or the reason for having none; other results beside it. */
export function NumbersPanel({ recipeName, result, own, preview }: NumbersPanelProps) {
  if (result === null && preview === null)
    return (
      <EmptyState title="Not measured">
        This capture has no result under the recipe in use. Apply the recipe on the Recipes screen.
      </EmptyState>
    )
  return (
    <table className="data-table numbers-table" aria-label="Numbers of this capture">
      <caption>Recipe “{recipeName}”; u is the standard uncertainty.</caption>
      <thead>
        <tr>
          <th scope="col">Measure</th>
          <th scope="col" className="align-end">
            {own === null ? 'Value' : 'Marks by hand'}
          </th>
          <th scope="col" className="align-end">
            u
          </th>
          {own === null ? null : (
            <th scope="col" className="align-end">
              Automatic
            </th>
          )}
          {preview === null ? null : (
            <th scope="col" className="align-end">
              Preview
            </th>
          )}
        </tr>
      </thead>
      <tbody>
        {MEASURE_IDS.map((id) => (
          <tr key={id}>
            <th scope="row" title={MEASURES[id].meaning}>
              {MEASURES[id].label}
            </th>
            {(result?.values[id] ?? null) === null && own === null && preview === null ? (
              <td colSpan={2}>
                {UNDEFINED_TEXT} <span className="minor numbers-why">{result?.reasons[id] ?? ''}</span>
              </td>
            ) : (
              <>
                {/* Beside another result every digit is kept: a small move of a mark is to be seen. */}
                <Value id={id} result={result} asUncertain={own === null && preview === null} />
                <td className="align-end minor">{uncertaintyText(id, result)}</td>
              </>
            )}
            {own === null ? null : <Value id={id} result={own} />}
            {preview === null ? null : <Value id={id} result={preview} than={result} />}
          </tr>
        ))}
      </tbody>
    </table>
  )
}

function Value(props: { id: MeasureId; result: Result | null; than?: Result | null; asUncertain?: boolean }) {
  const { id, result, than, asUncertain = false } = props
  const value = result?.values[id] ?? null
  const differs = than !== undefined && value !== (than?.values[id] ?? null)
  if (value === null)
    return (
      <td className="align-end" data-differs={differs}>
        {UNDEFINED_TEXT}
        <span className="numbers-reason">{result?.reasons[id] ?? ''}</span>
      </td>
    )
  return (
    <td className="align-end" data-differs={differs}>
      {valueText(id, value, asUncertain ? result?.uncertainties[id] : undefined)}
    </td>
  )
}

/** With the decimals of its uncertainty, where that is given. */
function valueText(id: MeasureId, value: number, u?: number): string {
  if (id === 'in_window') return value >= 0.5 ? 'yes' : 'no'
  const { text, unit } = printMeasured(id, value, u)
  return `${text} ${unit}`.trim()
}

function uncertaintyText(id: MeasureId, result: Result | null): string {
  const [value, u] = [result?.values[id] ?? null, result?.uncertainties[id]]
  return u === undefined || value === null ? '' : printUncertainty(id, value, u)
}
