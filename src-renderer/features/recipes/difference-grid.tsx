import { useRef, useState, type CSSProperties, type KeyboardEvent } from 'react'
import type { MeasureId } from '#shared/domain/measures.ts'
import type { CellComparison } from '#shared/findings/compare.ts'
import { goTo } from '../../app/route.ts'
import { css, differenceColours } from '../../ui/colour-ramp.ts'
import { pair, plural } from '../../ui/format.ts'
import { useTheme } from '../../ui/theme.ts'
import { moveInGrid } from '../bench/grid-moves.ts'
import { bareDifference, differenceText, meanText, tracesOf } from './difference-text.ts'

export interface DifferenceGridProps {
  readonly label: string
  readonly sweepId: number
  readonly measure: MeasureId
  readonly cells: readonly CellComparison[]
  /** Difference at which the colours end. */
  readonly size: number
}

/** Differences of a sweep's transitions, old recipe to new. Arrow keys move, Enter opens the traces. */
export function DifferenceGrid({ label, sweepId, measure, cells, size }: DifferenceGridProps) {
  const table = useRef<HTMLTableElement>(null)
  const theme = useTheme()
  const [at, setAt] = useState<readonly [number, number]>([0, 1])
  const levels = [...new Set(cells.flatMap(({ from, to }) => [from, to]))].sort((a, b) => a - b)
  const byKey = new Map(cells.map((cell) => [`${cell.from} ${cell.to}`, cell]))
  const [row, column] = [Math.min(at[0], levels.length - 1), Math.min(at[1], levels.length - 1)]
  const onKeyDown = (event: KeyboardEvent) => {
    const next = moveInGrid([row, column], event.key, event.ctrlKey, levels.length)
    if (next !== null) {
      event.preventDefault()
      setAt(next)
      table.current?.querySelector<HTMLElement>(`[data-at="${next[0]} ${next[1]}"]`)?.focus()
      return
    }
    const [from, to] = [levels[row], levels[column]]
    if (event.key !== 'Enter' || from === undefined || to === undefined || from === to) return
    event.preventDefault()
    goTo(tracesOf(sweepId, from, to))
  }
  return (
    <table
      ref={table}
      role="grid"
      aria-label={label}
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
            {levels.map((to, j) => (
              <Cell
                key={to}
                from={from}
                to={to}
                at={`${i} ${j}`}
                isTabStop={i === row && j === column}
                cell={byKey.get(`${from} ${to}`) ?? null}
                measure={measure}
                size={size}
                theme={theme}
                onFocus={() => setAt([i, j])}
                onOpen={() => goTo(tracesOf(sweepId, from, to))}
              />
            ))}
          </tr>
        ))}
      </tbody>
    </table>
  )
}

interface CellProps {
  readonly from: number
  readonly to: number
  readonly at: string
  readonly isTabStop: boolean
  readonly cell: CellComparison | null
  readonly measure: MeasureId
  readonly size: number
  readonly theme: 'dark' | 'light'
  readonly onFocus: () => void
  readonly onOpen: () => void
}

function Cell({ from, to, at, isTabStop, cell, measure, size, theme, onFocus, onOpen }: CellProps) {
  const common = { 'data-at': at, tabIndex: isTabStop ? 0 : -1, onFocus }
  if (from === to)
    return <td role="gridcell" {...common} className="matrix-diagonal" aria-label={`${from}: no transition`} />
  const difference = cell?.difference ?? null
  const colours = difference === null ? null : differenceColours(difference, size, theme)
  const style: CSSProperties = colours === null ? {} : { background: css(colours.background), color: css(colours.ink) }
  return (
    <td role="gridcell" {...common} className="matrix-cell" style={style} onClick={onOpen}>
      <span className="visually-hidden">{cellWords(from, to, cell, measure)}</span>
      <span className="matrix-number" aria-hidden="true">
        {difference === null ? emptyMark(cell) : bareDifference(measure, difference)}
      </span>
      <span className="matrix-n" aria-hidden="true">
        {cell === null || cell.n === 0 ? '' : `n ${cell.n}`}
        {cell !== null && cell.onlyA + cell.onlyB > 0 ? ` +${cell.onlyA} −${cell.onlyB}` : ''}
      </span>
    </td>
  )
}

function emptyMark(cell: CellComparison | null): string {
  return cell !== null && cell.onlyA + cell.onlyB > 0 ? '—' : ''
}

function cellWords(from: number, to: number, cell: CellComparison | null, measure: MeasureId): string {
  const name = pair(from, to)
  if (cell === null || (cell.n === 0 && cell.onlyA + cell.onlyB === 0)) return `${name}: no captures measured`
  const lost = cell.onlyA > 0 ? `, ${cell.onlyA} with a value under the old recipe only` : ''
  const won = cell.onlyB > 0 ? `, ${cell.onlyB} with a value under the new recipe only` : ''
  if (cell.difference === null) return `${name}: no difference${lost}${won}`
  const u95 = cell.u95 === null ? '' : `, U95 ${meanText(measure, cell.u95)}`
  const [a, b] = [meanText(measure, cell.a), meanText(measure, cell.b)]
  return `${name}: ${differenceText(measure, cell.difference)}, from ${a} to ${b}, ${plural(cell.n, 'capture')}${u95}${lost}${won}`
}
