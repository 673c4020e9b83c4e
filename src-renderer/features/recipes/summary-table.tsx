import type { MeasureId } from '#shared/domain/measures.ts'
import type { SummaryDifference } from '#shared/findings/compare.ts'
import { ComparedTable } from './compared-table.tsx'
import { SUMMARY_WORDS, summaryDifferenceText, summaryMoved, summaryText } from './difference-text.ts'

export interface SummaryTableProps {
  readonly label: string
  readonly measure: MeasureId
  readonly summaries: readonly SummaryDifference[]
  readonly oldHead: string
  readonly newHead: string
}

/** The summary numbers of a sweep under two recipes, each with the captures it rests on. */
export function SummaryTable({ label, measure, summaries, oldHead, newHead }: SummaryTableProps) {
  return (
    <ComparedTable label={label} heads={['Summary', oldHead, newHead, 'Difference', 'n']}>
      {summaries.map(({ name, a, b, difference }) => (
        <tr key={name} data-moved={summaryMoved(name, measure, difference)}>
          <th scope="row">{SUMMARY_WORDS[name]}</th>
          <td className="align-end digits" title={a.note}>
            {summaryText(name, measure, a.value)}
          </td>
          <td className="align-end digits" title={b.note}>
            {summaryText(name, measure, b.value)}
          </td>
          <td className="align-end digits">{summaryDifferenceText(name, measure, difference)}</td>
          <td className="align-end digits">{a.n === b.n ? a.n : `${a.n} / ${b.n}`}</td>
        </tr>
      ))}
    </ComparedTable>
  )
}
