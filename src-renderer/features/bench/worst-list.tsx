/** Until a transition is chosen: those furthest from good under the measure of the matrix, with every capture. */
import { Button } from 'react-aria-components'
import type { Sweep } from '#shared/domain/capture.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { MatrixData } from '#shared/domain/views.ts'
import { cellStatistics, repeatsExpected, usableEntries } from '#shared/findings/matrix.ts'
import { displayUnit, pair, shortMeasure } from '../../ui/format.ts'
import { fixedScale, judge } from '../../ui/measure-scale.ts'
import { type MatrixMeasure, matrixLabel } from '../../ui/measures-shown.ts'
import type { CellKey } from './matrix-grid.tsx'

/** So many fit beside the matrix of a common screen. */
const MOST = 12
/** Share of the width within which the two numbers above the rows would touch. */
const TOUCHING = 0.2

const MARKS = {
  inside: ['', ''],
  undecided: ['? ', 'the limit lies within its U95'],
  outside: ['▲ ', 'outside the limit'],
} as const

export function WorstList(props: {
  readonly sweep: Sweep
  readonly data: MatrixData | null
  readonly recipe: Recipe | null
  readonly measure: MatrixMeasure
  readonly onOpen: (cell: CellKey) => void
}) {
  const { sweep, data, recipe, measure, onOpen } = props
  if (data === null || recipe === null) return null
  const scale = fixedScale(measure, sweep.plan.refreshHz, recipe)
  const { good, bad, limit, limitName } = scale
  const direction = good <= bad ? 1 : -1
  const valued = cellStatistics(data, measure, repeatsExpected(sweep)).flatMap(({ from, to, mean, u95, flagged }) =>
    mean === null ? [] : [{ from, to, mean, u95, flagged }],
  )
  if (valued.length === 0) return null
  const worst = valued
    .toSorted((a, b) => direction * (b.mean - a.mean))
    .slice(0, MOST)
    .map((cell) => {
      const entries = data.cells.find(({ from, to }) => from === cell.from && to === cell.to)?.entries ?? []
      // A capture is in the window or not: its share has no place between.
      const captures = measure === 'in_window' ? [] : usableEntries(entries, measure)
      return { ...cell, captures: captures.map(({ entry, value }) => ({ id: entry.captureId, value })) }
    })
  const reach = worst.flatMap(({ mean, captures }) => [mean, ...captures.map(({ value }) => value)])
  const end = direction * Math.max(...[...reach, limit ?? good].map((value) => direction * value))
  /** 0 at the good end, 1 at what is furthest from it. */
  const share = (value: number): number => (end === good ? 0 : Math.min(1, Math.max(0, (value - good) / (end - good))))
  const at = (value: number) => ({ insetInlineStart: `${100 * share(value)}%` })
  const unit = displayUnit(measure)
  return (
    <section className="worst" aria-label="Worst transitions">
      <header className="pane-head">
        <h2>Worst transitions</h2>
        <span className="minor">
          {valued.length > worst.length ? `${worst.length} of ${valued.length} by ` : 'by '}
          {matrixLabel(measure).toLowerCase()}
          {unit === '' || matrixLabel(measure).includes(unit) ? '' : `, ${unit}`}
        </span>
      </header>
      <div className="worst-scroll">
        <div className="worst-axis" aria-hidden="true">
          <span className="worst-strip">
            {limit !== null && share(limit) < TOUCHING ? null : (
              <span style={at(good)}>{shortMeasure(measure, good)}</span>
            )}
            {limit === null ? null : (
              <span className="worst-limit-name" style={at(limit)}>
                {limitName} {shortMeasure(measure, limit)}
              </span>
            )}
          </span>
        </div>
        <ol className="worst-rows">
          {worst.map(({ from, to, mean, u95, flagged, captures }) => {
            const [mark, words] = MARKS[judge(mean, u95, scale)]
            const value = shortMeasure(measure, mean)
            return (
              <li key={pair(from, to)}>
                <Button
                  className="worst-row"
                  aria-label={`Open ${[`${pair(from, to)}: ${value} ${unit}`.trim(), words, flagged > 0 ? `${flagged} flagged` : ''].filter((part) => part !== '').join(', ')}`}
                  onPress={() => onOpen({ from, to })}
                >
                  <span className="worst-pair">{pair(from, to)}</span>
                  <span className="worst-strip" aria-hidden="true">
                    {limit === null ? null : <span className="worst-limit" style={at(limit)} />}
                    {captures.map((capture) => (
                      <span key={capture.id} className="worst-capture" style={at(capture.value)} />
                    ))}
                    <span className="worst-mean" style={at(mean)} />
                  </span>
                  <span className={words === '' ? 'worst-value' : 'worst-value warn-text'}>
                    {mark}
                    {value}
                  </span>
                  <span className="worst-flags">{flagged > 0 ? `⚑${flagged}` : ''}</span>
                </Button>
              </li>
            )
          })}
        </ol>
      </div>
      <p className="worst-hint">
        {measure === 'in_window' ? 'Bar: share of captures in the window.' : 'Bar: mean; dots: captures.'} Choose a row
        for its trace.
      </p>
    </section>
  )
}
