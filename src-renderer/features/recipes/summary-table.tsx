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

/** The summary numbers of the same captures under two recipes, with their count and that of those left out. */
export function SummaryTable({ label, measure, summaries, oldHead, newHead }: SummaryTableProps) {
  return (
    <ComparedTable
      label={label}
      heads={['Summary', oldHead, newHead, 'Difference', 'n', 'Left out']}
      titles={{
        n: 'Captures with a value under both recipes',
        'Left out': 'Captures with a value under one recipe only: old / new',
      }}
    >
      {summaries.map(({ name, a, b, difference, leftOut }) => (
        <tr key={name} data-moved={summaryMoved(name, measure, difference)}>
          <th scope="row">{SUMMARY_WORDS[name]}</th>
          <td className="align-end digits" title={a.note}>
            {summaryText(name, measure, a.value)}
          </td>
          <td className="align-end digits" title={b.note}>
            {summaryText(name, measure, b.value)}
          </td>
          <td className="align-end digits">{summaryDifferenceText(name, measure, difference)}</td>
          <td className="align-end digits">{a.n}</td>
          <td className="align-end digits">{leftOutText(leftOut)}</td>
        </tr>
      ))}
    </ComparedTable>
  )
}

const leftOutText = ({ a, b }: SummaryDifference['leftOut']): string => (a + b === 0 ? '' : `${a} / ${b}`)
