import { useMemo } from 'react'
import type { Sweep } from '#shared/domain/capture.ts'
import type { CaptureRow } from '#shared/domain/views.ts'
import { cellStatistics, repeatsExpected } from '#shared/findings/matrix.ts'
import { useCaptures, useMatrix } from '../../client/queries.ts'
import { useExports } from '../../client/use-exports.ts'
import { Action, EmptyState } from '../../ui/controls.tsx'
import { CellBudget } from '../../ui/cell-budget.tsx'
import { displayUnit, pair, printMeasure, UNDEFINED_TEXT } from '../../ui/format.ts'
import { FLAG_WORDS, REVIEW_WORDS, VERDICT_WORDS } from '../../ui/words.ts'
import { EVERYTHING, writeAddress } from '../../navigation/address.ts'
import type { CellKey } from './matrix-grid.tsx'
import { MATRIX_MEASURES, type MatrixMeasure, matrixLabel } from '../../ui/measures-shown.ts'

export interface CellCapturesProps {
  readonly sweep: Sweep | null
  readonly cell: CellKey | null
  readonly recipeHash: string
  readonly measure: MatrixMeasure
  readonly captureId: number | null
  readonly onCapture: (id: number) => void
}

export function CellCaptures(props: CellCapturesProps) {
  const { sweep, cell } = props
  if (sweep === null || cell === null)
    return (
      <EmptyState title="No cell chosen">
        Choose a cell of the matrix to see its captures; choose a capture to see its trace.
      </EmptyState>
    )
  return <Captures {...props} sweep={sweep} cell={cell} />
}

function Captures(props: CellCapturesProps & { sweep: Sweep; cell: CellKey }) {
  const { sweep, cell, recipeHash, measure } = props
  const captures = useCaptures({ recipeHash, sweepId: sweep.id, from: cell.from, to: cell.to })
  const rows = captures.data?.rows ?? []
  const exports = useExports()
  return (
    <div className="cell-captures">
      <h3>
        {pair(cell.from, cell.to)}
        <span className="minor"> {matrixLabel(measure)}</span>
      </h3>
      <Statistics sweep={sweep} cell={cell} recipeHash={recipeHash} measure={measure} />
      {rows.length === 0 ? (
        <p className="hint">{captures.isFetching ? 'Reading…' : 'Not captured yet.'}</p>
      ) : (
        <>
          <a
            href={writeAddress({
              captureId: rows[0]?.info.id ?? null,
              filter: { ...EVERYTHING, sweepId: sweep.id, ...cell },
            })}
          >
            Look at these traces at the desk
          </a>
          <table className="captures" aria-label={`Captures of ${pair(cell.from, cell.to)}`}>
            <thead>
              <tr>
                <th scope="col">Capture</th>
                <th scope="col">Repeat</th>
                <th scope="col" className="align-end">
                  {displayUnit(measure) || 'Value'}
                </th>
                <th scope="col" className="captures-state">
                  State
                </th>
                <th scope="col" className="align-end">
                  Raw
                </th>
              </tr>
            </thead>
            <tbody>
              {rows.map((row) => (
                <tr key={row.info.id} data-shown={row.info.id === props.captureId}>
                  <td>
                    <Action
                      size="small"
                      tone="quiet"
                      aria-label={`Show the trace of capture ${row.info.id}`}
                      onPress={() => props.onCapture(row.info.id)}
                    >
                      #{row.info.id}
                    </Action>
                  </td>
                  <td>
                    {row.info.repeat}
                    {row.info.attempt > 1 ? <span className="minor"> attempt {row.info.attempt}</span> : null}
                  </td>
                  <td className="align-end digits">{valueText(row, measure)}</td>
                  <td className="captures-state">{stateText(row)}</td>
                  <td className="align-end">
                    <Action
                      size="small"
                      tone="quiet"
                      isPending={exports.busy}
                      aria-label={`Save the trace of capture ${row.info.id} as CSV`}
                      onPress={() => exports.saveTrace(row.info.id)}
                    >
                      CSV
                    </Action>
                  </td>
                </tr>
              ))}
            </tbody>
          </table>
        </>
      )}
    </div>
  )
}

function Statistics(props: { sweep: Sweep; cell: CellKey; recipeHash: string; measure: MatrixMeasure }) {
  const { sweep, cell, recipeHash, measure } = props
  const { data } = useMatrix(sweep.id, recipeHash, MATRIX_MEASURES)
  const found = useMemo(
    () =>
      data === undefined
        ? undefined
        : cellStatistics(data, measure, repeatsExpected(sweep)).find(
            ({ from, to }) => from === cell.from && to === cell.to,
          ),
    [data, measure, sweep, cell],
  )
  return found === undefined || found.n === 0 ? null : <CellBudget cell={found} measure={measure} />
}

function valueText(row: CaptureRow, measure: MatrixMeasure): string {
  const value = row.values?.[measure] ?? null
  if (value === null) return UNDEFINED_TEXT
  if (measure === 'in_window') return value >= 0.5 ? 'in' : 'out'
  return printMeasure(measure, value).text
}

function stateText(row: CaptureRow): string {
  const parts = [
    row.info.verdict === 'good' ? '' : VERDICT_WORDS[row.info.verdict],
    row.review === null ? '' : REVIEW_WORDS[row.review],
    ...row.flags.map((flag) => `⚑ ${FLAG_WORDS[flag]}`),
  ].filter((part) => part !== '')
  return parts.length === 0 ? 'good' : parts.join(', ')
}
