import { useMemo, useState } from 'react'
import { rankingFigure } from '#shared/figures/ranking.ts'
import type { FigureData } from '#shared/figures/point-data.ts'
import type { FigureHost } from '#shared/figures/svg.ts'
import { u95Of } from '#shared/findings/campaign/estimate.ts'
import {
  compareRecords,
  conditionsText,
  differenceText,
  type RecordComparison,
  type RecordedDisplay,
  recordRankingSentence,
} from '#shared/findings/campaign/record-compare.ts'
import { recordFigureInfo, type RecordFigureId, type RecordValue } from '#shared/record/figures.ts'
import { valueText } from '#shared/record/quantity.ts'
import { FigureView } from '../../parts/figure-view.tsx'
import { SelectInput } from '../../ui/fields.tsx'
import { figuresToCompare } from './record-choice.ts'

/** What the display's record says beside its transitions; nothing is shown while it is empty. */
export function OnRecord({
  campaignId,
  record,
}: {
  readonly campaignId: number
  readonly record: readonly RecordValue[]
}) {
  if (record.length === 0) return null
  return (
    <section aria-label="On record">
      <h2>On record</h2>
      <table className="found-record" aria-label="Figures of the record">
        <tbody>
          {record.map((value, i) => {
            const { label, derived } = recordFigureInfo(value.figure)
            return (
              // Two values of the same figure under the same conditions may both stand.
              // oxlint-disable-next-line react/no-array-index-key
              <tr key={`${value.figure} ${i}`} title={derived}>
                <th scope="row">{label}</th>
                <td className="digits align-end">{valueText(value)}</td>
                <td className="minor">{conditionsText(value.conditions)}</td>
              </tr>
            )
          })}
        </tbody>
      </table>
      <p className="hint">
        Each with its 95 % interval where one is known. <a href={`#/record/${campaignId}`}>Open the record</a>
      </p>
    </section>
  )
}

/** One figure of the records over all displays that were measured alike; nothing while no two have the same figure. */
export function RecordsCompared({ displays }: { readonly displays: readonly RecordedDisplay[] }) {
  const [wanted, setWanted] = useState<RecordFigureId | null>(null)
  const { offered, usual } = useMemo(() => figuresToCompare(displays), [displays])
  const figure = offered.find((id) => id === wanted) ?? usual
  const found = figure === null ? null : compareRecords(displays, figure)
  if (found === null) return null
  const { label, unit, derived, better } = recordFigureInfo(found.figure)
  const suffix = unit === '1' ? '' : `, ${unit}`
  return (
    <section aria-label="Records compared" className="found-records">
      <h3>Light, colour, latency, power</h3>
      <SelectInput
        label="Figure of the record"
        value={found.figure}
        choices={offered.map((id) => ({ id, label: recordFigureInfo(id).label }))}
        onChange={setWanted}
      />
      <p>{recordRankingSentence(found)}</p>
      {found.entries.length < 2 ? null : (
        <>
          <Ranked found={found} />
          <table className="found-record" aria-label={`${label} of the displays`}>
            <thead>
              <tr>
                <th scope="col">Display</th>
                <th scope="col" className="align-end">
                  {label}
                </th>
                <th scope="col" className="align-end">{`Minus the first${suffix}`}</th>
                <th scope="col">{better === null ? 'Group' : 'Rank, group'}</th>
              </tr>
            </thead>
            <tbody>
              {found.entries.map(({ name, value, fromFirst }, i) => {
                const { best, worst, letters } = found.ranking.ranked[i] ?? { best: 0, worst: 0, letters: '' }
                return (
                  <tr key={name}>
                    <th scope="row">{name}</th>
                    <td className="digits align-end">{valueText(value)}</td>
                    <td className="digits align-end">{fromFirst === null ? '–' : differenceText(fromFirst)}</td>
                    <td>{better === null ? letters : `${best === worst ? best : `${best}–${worst}`}, ${letters}`}</td>
                  </tr>
                )
              })}
            </tbody>
          </table>
        </>
      )}
      <p className="hint">
        {found.entries.length < 2 || Object.keys(found.conditions).length === 0
          ? ''
          : `Measured alike: ${conditionsText(found.conditions)}. `}
        {derived}
      </p>
      {found.without.map(({ name, reason }) => (
        <p key={name} className="hint">
          {name}: {reason}
        </p>
      ))}
    </section>
  )
}

function Ranked({ found }: { readonly found: RecordComparison }) {
  const { figure, entries, ranking } = found
  const { label, better } = recordFigureInfo(figure)
  const draw = useMemo(
    () => (host: FigureHost) =>
      rankingFigure(
        host,
        { id: `record-${figure}`, ...recordFigureInfo(figure) },
        entries.map(({ name, value: { estimate } }) => ({ name, estimate })),
        ranking,
      ),
    [figure, entries, ranking],
  )
  return (
    <FigureView
      draw={draw}
      file={{ name: `ranking-${figure.replaceAll('_', '-')}`, data: rankingData(found) }}
      caption={`${label} with U95, ${better === null ? 'smallest' : 'best'} first. Displays that the measurements cannot tell apart share ${better === null ? 'a group' : 'ranks'}.`}
    />
  )
}

const rankingData = ({ entries, ranking }: RecordComparison): FigureData => ({
  columns: ['display', 'value', 'u95', 'at_least', 'from_first', 'u95_of_difference', 'best_rank', 'worst_rank'],
  rows: entries.map(({ name, value: { estimate, atLeast }, fromFirst }, i) => {
    const { best, worst } = ranking.ranked[i] ?? { best: null, worst: null }
    return [
      name,
      estimate.value,
      u95Of(estimate),
      atLeast ? 'yes' : 'no',
      fromFirst?.value ?? null,
      fromFirst?.u95 ?? null,
      best,
      worst,
    ]
  }),
})
