import { MEASURES, type MeasureId } from '#shared/domain/measures.ts'
import type { UncertaintyTerm } from '#shared/domain/result.ts'
import { budgetTerms } from '#shared/findings/budget.ts'
import type { CellStatistics } from '#shared/findings/matrix.ts'
import { displayUnit, fixed, printMeasure, significant, UNDEFINED_TEXT } from './format.ts'

export interface CellBudgetProps {
  readonly cell: CellStatistics
  readonly measure: MeasureId
  /** Causes of what all captures share, where they are known. */
  readonly shared?: readonly UncertaintyTerm[]
}

/** Statistics of one transition, and what its uncertainty is made of, largest first. */
export function CellBudget({ cell, measure, shared }: CellBudgetProps) {
  const isShare = measure === 'in_window'
  const print = (value: number | null) => {
    if (value === null) return UNDEFINED_TEXT
    if (isShare) return `${Math.round(value * 100)} %`
    const { text, unit } = printMeasure(measure, value)
    return `${text} ${unit}`.trim()
  }
  const numbers: readonly (readonly [string, string])[] = [
    ['n', String(cell.n)],
    ['Mean', print(cell.mean)],
    ...(isShare ? [] : ([['s', print(cell.s)]] as const)),
    ['U95', print(cell.u95)],
    ...(cell.undecided === 0 ? [] : ([['Undecided', String(cell.undecided)]] as const)),
  ]
  const terms = isShare || cell.budget === null || cell.u95 === null ? [] : budgetTerms(cell.budget, shared)
  return (
    <>
      <dl className="statistics">
        {numbers.map(([name, text]) => (
          <div key={name}>
            <dt>{name}</dt>
            <dd>{text}</dd>
          </div>
        ))}
      </dl>
      {cell.note === '' ? null : <p className="hint">{cell.note}</p>}
      {terms.length === 0 || cell.budget?.u === 0 ? null : (
        <table className="cell-budget" aria-label="What the uncertainty is made of, largest first">
          <thead>
            <tr>
              <th scope="col">Uncertainty from</th>
              <th scope="col" className="align-end">
                u
              </th>
              <th scope="col" className="align-end">
                Share
              </th>
            </tr>
          </thead>
          <tbody>
            {terms.map(({ name, u, sharePct, averages }) => (
              <tr key={name}>
                <td>
                  {name}
                  <span className="minor">{averages ? ' falls with repeats' : ''}</span>
                </td>
                <td className="align-end digits">{sizeText(measure, u)}</td>
                <td className="align-end digits">{fixed(sharePct, 0)} %</td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
    </>
  )
}

/** An uncertainty to two digits, however small. */
function sizeText(measure: MeasureId, u: number): string {
  const { unit } = MEASURES[measure]
  return `${significant(unit === 's' ? u * 1000 : u, 2)} ${displayUnit(measure)}`.trim()
}
