import { memo, useRef, useState, type CSSProperties, type KeyboardEvent } from 'react'
import type { CellStatistics } from '#shared/findings/matrix.ts'
import { css, rampColours, type RampScale } from '../../ui/colour-ramp.ts'
import { displayUnit, pair, plural, shortMeasure, UNDEFINED_TEXT } from '../../ui/format.ts'
import type { MatrixMeasure } from './measures-shown.ts'
import { moveInGrid } from './grid-moves.ts'

export interface CellKey {
  readonly from: number
  readonly to: number
}

export interface MatrixGridProps {
  readonly label: string
  readonly levels: readonly number[]
  readonly cells: readonly CellStatistics[]
  readonly measure: MatrixMeasure
  readonly scale: RampScale | null
  readonly selected: CellKey | null
  /** The transition being captured. */
  readonly current: CellKey | null
  readonly onOpen: (cell: CellKey) => void
}

/** From-levels down, to-levels across. One cell takes part in the tab order; arrow keys move, Enter opens. */
export function MatrixGrid(props: MatrixGridProps) {
  const { levels, cells, measure, scale, selected, current, onOpen } = props
  const table = useRef<HTMLTableElement>(null)
  const [at, setAt] = useState<readonly [number, number]>([0, 1])
  const byKey = new Map(cells.map((cell) => [`${cell.from} ${cell.to}`, cell]))
  const row = Math.min(at[0], levels.length - 1)
  const column = Math.min(at[1], levels.length - 1)

  const onKeyDown = (event: KeyboardEvent) => {
    const next = moveInGrid([row, column], event.key, event.ctrlKey, levels.length)
    if (next === null) return
    event.preventDefault()
    setAt(next)
    table.current?.querySelector<HTMLElement>(`[data-at="${next[0]} ${next[1]}"]`)?.focus()
  }

  return (
    <table
      ref={table}
      role="grid"
      aria-label={props.label}
      aria-rowcount={levels.length + 1}
      aria-colcount={levels.length + 1}
      className="matrix"
      style={{ minWidth: `calc(var(--matrix-heads) + ${levels.length} * var(--matrix-cell))` }}
      onKeyDown={onKeyDown}
    >
      <thead>
        <tr>
          <th scope="col" className="matrix-corner">
            from ↓ to →
          </th>
          {levels.map((to) => (
            <th key={to} scope="col">
              {to}
            </th>
          ))}
        </tr>
      </thead>
      <tbody>
        {levels.map((from, i) => (
          <tr key={from}>
            <th scope="row">{from}</th>
            {levels.map((to, j) => {
              const cell = byKey.get(`${from} ${to}`)
              return (
                <MatrixCell
                  key={to}
                  from={from}
                  to={to}
                  at={`${i} ${j}`}
                  isTabStop={i === row && j === column}
                  isSelected={selected?.from === from && selected.to === to}
                  isCurrent={current?.from === from && current.to === to}
                  measure={measure}
                  mean={cell?.mean ?? null}
                  n={cell?.n ?? 0}
                  flagged={cell?.flagged ?? 0}
                  excluded={cell?.excluded ?? 0}
                  without={cell?.withoutValue ?? 0}
                  missing={cell?.missing ?? 0}
                  min={scale?.min ?? 0}
                  max={scale?.max ?? 0}
                  reach={scale?.reach ?? 1}
                  onFocus={() => setAt([i, j])}
                  onOpen={onOpen}
                />
              )
            })}
          </tr>
        ))}
      </tbody>
    </table>
  )
}

interface CellProps extends CellKey {
  readonly at: string
  readonly isTabStop: boolean
  readonly isSelected: boolean
  readonly isCurrent: boolean
  readonly measure: MatrixMeasure
  readonly mean: number | null
  readonly n: number
  readonly flagged: number
  readonly excluded: number
  readonly without: number
  readonly missing: number
  readonly min: number
  readonly max: number
  readonly reach: number
  readonly onFocus: () => void
  readonly onOpen: (cell: CellKey) => void
}

/** Plain values only, so that a capture repaints its own cell and no other (callbacks are left out on purpose). */
const MatrixCell = memo(
  function MatrixCell(props: CellProps) {
    const { from, to, mean, n } = props
    const common = {
      'data-at': props.at,
      tabIndex: props.isTabStop ? 0 : -1,
      onFocus: props.onFocus,
    }
    if (from === to)
      return <td role="gridcell" {...common} className="matrix-diagonal" aria-label={`${from}: no transition`} />
    const colours = mean === null ? null : rampColours(mean, props)
    const style: CSSProperties =
      colours === null ? {} : { background: css(colours.background), color: css(colours.ink) }
    const open = () => props.onOpen({ from, to })
    return (
      <td
        role="gridcell"
        {...common}
        className={`matrix-cell ${props.isCurrent ? 'matrix-current' : ''}`}
        aria-selected={props.isSelected}
        style={style}
        onClick={open}
        onKeyDown={(event) => {
          if (event.key !== 'Enter' && event.key !== ' ') return
          event.preventDefault()
          open()
        }}
      >
        <span className="visually-hidden">{cellWords(props)}</span>
        <span className="matrix-number" aria-hidden="true">
          {mean === null ? emptyMark(props) : shortMeasure(props.measure, mean)}
        </span>
        <span className="matrix-n" aria-hidden="true">
          {n > 0 ? `n ${n}` : ''}
          {props.flagged > 0 ? ` ⚑${props.flagged}` : ''}
          {props.excluded > 0 ? ` −${props.excluded}` : ''}
        </span>
      </td>
    )
  },
  (a, b) =>
    (Object.keys(a) as (keyof CellProps)[]).every((key) => key === 'onFocus' || key === 'onOpen' || a[key] === b[key]),
)

function emptyMark({ without }: CellProps): string {
  return without > 0 ? UNDEFINED_TEXT : ''
}

function cellWords(cell: CellProps): string {
  const unit = displayUnit(cell.measure)
  const value =
    cell.mean === null
      ? cell.without > 0
        ? 'undefined'
        : 'not captured yet'
      : `${shortMeasure(cell.measure, cell.mean)} ${unit}`.trim()
  const parts = [`${pair(cell.from, cell.to)}: ${value}`]
  if (cell.n > 0) parts.push(plural(cell.n, 'capture'))
  if (cell.flagged > 0) parts.push(`${cell.flagged} flagged`)
  if (cell.excluded > 0) parts.push(`${cell.excluded} excluded`)
  if (cell.isCurrent) parts.push('being captured')
  return parts.join(', ')
}
