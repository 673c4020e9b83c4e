import { MEASURE_IDS, MEASURES, type MeasureId } from '#shared/domain/measures.ts'
import type { Result } from '#shared/domain/result.ts'
import { EmptyState } from '../../ui/controls.tsx'
import { displayUnit, printMeasure, significant, UNDEFINED_TEXT } from '../../ui/format.ts'

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
                <Value id={id} result={result} />
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

function Value({ id, result, than }: { id: MeasureId; result: Result | null; than?: Result | null }) {
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
      {valueText(id, value)}
    </td>
  )
}

function valueText(id: MeasureId, value: number): string {
  if (id === 'in_window') return value >= 0.5 ? 'yes' : 'no'
  const { text, unit } = printMeasure(id, value)
  return `${text} ${unit}`.trim()
}

function uncertaintyText(id: MeasureId, result: Result | null): string {
  const u = result?.uncertainties[id]
  if (u === undefined || (result?.values[id] ?? null) === null) return ''
  const unit = displayUnit(id)
  if (unit === 'V') return u < 0.1 ? `${significant(u * 1000, 2)} mV` : `${significant(u, 2)} V`
  return `${significant(unit === 'ms' ? u * 1000 : u, 2)} ${unit}`.trim()
}
