import { Fragment } from 'react'
import { MEASURES, type MeasureId } from '#shared/domain/measures.ts'
import { decimalsFor, withUncertainty } from '#shared/domain/quantity-text.ts'
import type { UncertaintyTerm } from '#shared/domain/result.ts'
import { budgetTerms, t95 } from '#shared/findings/budget.ts'
import type { CellStatistics } from '#shared/findings/matrix.ts'
import { displayUnit, fixed, printMeasure, UNDEFINED_TEXT } from '../../ui/format.ts'

export interface CellBudgetProps {
  readonly cell: CellStatistics
  readonly measure: MeasureId
  /** Causes that single captures name, where they are known. */
  readonly causes?: readonly UncertaintyTerm[] | undefined
}

/** Statistics of one transition; the mean to the decimal its interval has. */
export function CellNumbers({ cell, measure }: Pick<CellBudgetProps, 'cell' | 'measure'>) {
  const isShare = measure === 'in_window'
  const print = (value: number | null) => {
    if (value === null) return UNDEFINED_TEXT
    if (isShare) return `${Math.round(value * 100)} %`
    const { text, unit } = printMeasure(measure, value)
    return `${text} ${unit}`.trim()
  }
  const { mean, u95 } = cell
  const { unit } = MEASURES[measure]
  const numbers: readonly (readonly [string, string])[] = [
    ['n', String(cell.n)],
    ...(isShare || mean === null || u95 === null
      ? ([
          ['mean', print(mean)],
          ['U95', print(u95)],
        ] as const)
      : ([['mean and U95', withUncertainty(mean, u95, unit)]] as const)),
    ...(isShare ? [] : ([['s', print(cell.s)]] as const)),
    ...(cell.undecided === 0 ? [] : ([['undecided', String(cell.undecided)]] as const)),
  ]
  return (
    <dl className="statistics">
      {numbers.map(([name, text]) => (
        <div key={name}>
          <dt>{name}</dt>
          <dd>{text}</dd>
        </div>
      ))}
    </dl>
  )
}

/** What the uncertainty of a transition is made of, by size, each term with what would make it smaller. */
export function CellTerms({ cell, measure, causes }: CellBudgetProps) {
  const { budget, n, dof } = cell
  if (measure === 'in_window' || budget === null || budget.u === 0) return null
  const size = sizeText(measure, budget.u)
  return (
    <table className="data-table cell-budget" aria-label="What the uncertainty is made of, largest first">
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
        {budgetTerms(budget, n, causes).map(({ name, u, sharePct, remedy }, i) => (
          <Fragment key={name}>
            <tr>
              <td>{name}</td>
              <td className="align-end digits">{size(u)}</td>
              <td className="align-end digits">{fixed(sharePct, sharePct < 1 ? 1 : 0)} %</td>
            </tr>
            {remedy === '' || (i > 0 && sharePct < WORTH_PCT) ? null : (
              <tr>
                <td className="remedy" colSpan={3}>
                  {remedy}
                </td>
              </tr>
            )}
          </Fragment>
        ))}
      </tbody>
      <tfoot>
        <tr>
          <td>{dof === null ? 'Together' : `Together; U95 is ${t95(dof).toFixed(2)} times that`}</td>
          <td className="align-end digits">{size(budget.u)}</td>
          <td />
        </tr>
      </tfoot>
    </table>
  )
}

/** Share of the variance from which on a term is worth improving, %: taking it away narrows the interval by 5 %. */
const WORTH_PCT = 10

/** Uncertainties below each other have the decimals of what they make together. */
function sizeText(measure: MeasureId, together: number): (u: number) => string {
  const { unit } = MEASURES[measure]
  const scale = unit === 's' ? 1000 : 1
  const decimals = decimalsFor(together * scale)
  const least = 10 ** -decimals
  return (u) => {
    const digits = u * scale < least / 2 ? `< ${fixed(least, decimals)}` : fixed(u * scale, decimals)
    return `${digits} ${displayUnit(measure)}`.trim()
  }
}
