/** The square of transitions: from-levels down, to-levels across, as an ARIA grid. */
import { memo, useRef, useState, type KeyboardEvent, type ReactNode } from 'react'
import { moveInGrid } from './grid-moves.ts'
import { useStable } from './use-stable.ts'

/** Where a cell is, and whether the tab order leads to it. */
interface CellPlace {
  readonly from: number
  readonly to: number
  readonly at: string
  readonly isTabStop: boolean
  readonly onFocus: () => void
  /** The same function for all cells at all times. */
  readonly onOpen: (from: number, to: number) => void
}

export interface MatrixTableProps {
  readonly label: string
  readonly levels: readonly number[]
  /** The cell of one transition; it hands its place on to `MatrixCell`. */
  readonly renderCell: (place: CellPlace) => ReactNode
  readonly onOpen: (from: number, to: number) => void
}

/** One cell takes part in the tab order; arrow keys move, Enter and space open. */
export function MatrixTable({ label, levels, renderCell, ...props }: MatrixTableProps) {
  const table = useRef<HTMLTableElement>(null)
  const [at, setAt] = useState<readonly [number, number]>([0, 1])
  const row = Math.min(at[0], levels.length - 1)
  const column = Math.min(at[1], levels.length - 1)
  const onOpen = useStable(props.onOpen)

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
      aria-label={label}
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
            {levels.map((to, j) =>
              renderCell({
                from,
                to,
                at: `${i} ${j}`,
                isTabStop: i === row && j === column,
                onFocus: () => setAt([i, j]),
                onOpen,
              }),
            )}
          </tr>
        ))}
      </tbody>
    </table>
  )
}

export interface MatrixCellProps extends CellPlace {
  /** Everything the cell says. */
  readonly words: string
  readonly number: string
  /** Small print under the number. */
  readonly note: string
  /** CSS colours of the cell and of what stands on it. */
  readonly background?: string | undefined
  readonly ink?: string | undefined
  readonly isSelected?: boolean
  readonly isCurrent?: boolean
  /** Drawn as a shape, so that colour is not the only sign: a full notch outside a limit, an open one on it. */
  readonly mark?: 'outside' | 'undecided' | undefined
}

/**
 * One transition; there is none from a level to itself. Plain values only, so that a capture repaints its own cell and
 * no other: what focus does is always the same for one place and is left out on purpose.
 */
export const MatrixCell = memo(
  function MatrixCell(props: MatrixCellProps) {
    const { from, to, isSelected } = props
    const common = { 'data-at': props.at, tabIndex: props.isTabStop ? 0 : -1, onFocus: props.onFocus }
    if (from === to)
      return <td role="gridcell" {...common} className="matrix-diagonal" aria-label={`${from}: no transition`} />
    const open = () => props.onOpen(from, to)
    return (
      <td
        role="gridcell"
        {...common}
        className={`matrix-cell${props.isCurrent === true ? ' matrix-current' : ''}`}
        data-mark={props.mark}
        {...(isSelected === undefined ? {} : { 'aria-selected': isSelected })}
        style={{ background: props.background, color: props.ink }}
        onClick={open}
        onKeyDown={(event) => {
          if (event.key !== 'Enter' && event.key !== ' ') return
          event.preventDefault()
          open()
        }}
      >
        <span className="visually-hidden">{props.words}</span>
        <span className="matrix-number" aria-hidden="true">
          {props.number}
        </span>
        <span className="matrix-n" aria-hidden="true">
          {props.note}
        </span>
      </td>
    )
  },
  (a, b) => (Object.keys(a) as (keyof MatrixCellProps)[]).every((key) => key === 'onFocus' || a[key] === b[key]),
)

/** A strip of the colours in use between the numbers they begin and end with. */
export function RampLegend(props: {
  readonly label: string
  readonly from: string
  readonly to: string
  /** Colours from left to right. */
  readonly stops: readonly string[]
}) {
  return (
    <div className="legend" role="img" aria-label={props.label}>
      <span>{props.from}</span>
      <span className="legend-bar" style={{ background: `linear-gradient(to right, ${props.stops.join(', ')})` }} />
      <span>{props.to}</span>
    </div>
  )
}
