import { Tab, TabList, TabPanel, Tabs } from 'react-aria-components'
import type { Sweep } from '#shared/domain/capture.ts'
import { MEASURES } from '#shared/domain/measures.ts'
import type { CaptureRow, MatrixData } from '#shared/domain/views.ts'
import { cellStatistics, repeatsExpected, usableEntries, type CellStatistics } from '#shared/findings/matrix.ts'
import { useCaptures, useCauses } from '../../client/queries.ts'
import { useExports } from '../../client/use-exports.ts'
import { Action } from '../../ui/controls.tsx'
import { useKept } from '../../ui/use-kept.ts'
import { CellNumbers, CellTerms } from './cell-budget.tsx'
import { displayUnit, pair, printMeasure, UNDEFINED_TEXT } from '../../ui/format.ts'
import { FLAG_WORDS, REVIEW_WORDS, VERDICT_WORDS } from '../../ui/words.ts'
import { EVERYTHING, writeAddress } from '../../navigation/address.ts'
import type { CellKey } from './matrix-grid.tsx'
import type { MatrixMeasure } from '../../ui/measures-shown.ts'

export interface CellCapturesProps {
  readonly sweep: Sweep
  readonly cell: CellKey
  readonly data: MatrixData | null
  readonly recipeHash: string
  readonly measure: MatrixMeasure
  readonly captureId: number | null
  readonly onCapture: (id: number) => void
}

/** Statistics of a transition and its captures, each a key away from its trace. */
export function CellCaptures(props: CellCapturesProps) {
  const { sweep, cell, data, recipeHash, measure } = props
  const captures = useCaptures({ recipeHash, sweepId: sweep.id, from: cell.from, to: cell.to })
  const rows = captures.data?.rows ?? []
  const [tab, setTab] = useKept('bench: about a transition', 'captures')
  const isCell = ({ from, to }: CellKey): boolean => from === cell.from && to === cell.to
  const all = data === null ? [] : cellStatistics(data, measure, repeatsExpected(sweep))
  const found = all.find(isCell)
  const statistics = found === undefined || found.n === 0 ? null : found
  const entries = data?.cells.find(isCell)?.entries ?? []
  const used = measure === 'in_window' ? [] : usableEntries(entries, measure).map(({ entry }) => entry.captureId)
  const budget =
    statistics === null ? null : (
      <Budget cell={statistics} measure={measure} captureIds={used} recipeHash={recipeHash} />
    )
  return (
    <div className="cell-captures">
      {statistics === null ? null : <CellNumbers cell={statistics} measure={measure} />}
      {rows.length === 0 ? (
        <p className="hint">{captures.isFetching ? 'Reading…' : 'Not captured yet.'}</p>
      ) : (
        <Tabs
          className="tabs"
          selectedKey={budget === null ? 'captures' : tab}
          onSelectionChange={(key) => setTab(String(key))}
        >
          <div className="cell-tabs">
            <TabList className="tab-list" aria-label="About this transition">
              <Tab id="captures" className="tab">
                Captures
              </Tab>
              <Tab id="uncertainty" className="tab" isDisabled={budget === null}>
                Uncertainty
              </Tab>
            </TabList>
            <a
              href={writeAddress({
                captureId: rows[0]?.info.id ?? null,
                filter: { ...EVERYTHING, sweepId: sweep.id, ...cell },
              })}
            >
              Open in Traces
            </a>
          </div>
          <TabPanel id="captures" className="tab-panel">
            <CaptureTable {...props} rows={rows} />
          </TabPanel>
          <TabPanel id="uncertainty" className="tab-panel">
            {budget}
          </TabPanel>
        </Tabs>
      )}
    </div>
  )
}

function CaptureTable({
  cell,
  measure,
  captureId,
  onCapture,
  rows,
}: CellCapturesProps & { readonly rows: readonly CaptureRow[] }) {
  const exports = useExports()
  return (
    <table className="captures" aria-label={`Captures of ${pair(cell.from, cell.to)}`}>
      <thead>
        <tr>
          <th scope="col">Capture</th>
          <th scope="col">Repeat</th>
          <th scope="col" className="align-end">
            {measure === 'transition_duration_s' ? 'Duration' : MEASURES[measure].label}
            {measure === 'in_window' || displayUnit(measure) === '' ? '' : `, ${displayUnit(measure)}`}
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
          <tr key={row.info.id} data-shown={row.info.id === captureId}>
            <td>
              <Action
                size="small"
                tone="quiet"
                aria-label={`Show the trace of capture ${row.info.id}`}
                onPress={() => onCapture(row.info.id)}
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
                onPress={() => exports.save({ what: 'trace', captureId: row.info.id })}
              >
                CSV
              </Action>
            </td>
          </tr>
        ))}
      </tbody>
    </table>
  )
}

/** Apart, so that what is asked of the host is what is shown. */
function Budget(props: {
  readonly cell: CellStatistics
  readonly measure: MatrixMeasure
  readonly captureIds: readonly number[]
  readonly recipeHash: string
}) {
  const { cell, measure } = props
  const causes = useCauses(props.captureIds, props.recipeHash, measure)
  return (
    <>
      {measure === 'in_window' || cell.budget === null || cell.budget.u === 0 ? (
        <p className="hint">No uncertainty is stated for this number.</p>
      ) : (
        <CellTerms cell={cell} measure={measure} causes={causes.data} />
      )}
      {cell.note === '' ? null : <p className="hint">{cell.note}</p>}
    </>
  )
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
