import type { CellStatistics } from '#shared/findings/matrix.ts'
import { css, rampColours, type RampScale } from '../../ui/colour-ramp.ts'
import { displayUnit, pair, plural, shortMeasure, UNDEFINED_TEXT } from '../../ui/format.ts'
import { MatrixCell, MatrixTable } from '../../ui/matrix-table.tsx'
import type { MatrixMeasure } from '../../ui/measures-shown.ts'

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

/** What the captures of each transition come to. */
export function MatrixGrid(props: MatrixGridProps) {
  const { measure, scale, selected, current, onOpen } = props
  const byKey = new Map(props.cells.map((cell) => [`${cell.from} ${cell.to}`, cell]))
  return (
    <MatrixTable
      label={props.label}
      levels={props.levels}
      onOpen={(from, to) => onOpen({ from, to })}
      renderCell={(place) => {
        const { from, to } = place
        const cell = byKey.get(`${from} ${to}`) ?? null
        const mean = cell?.mean ?? null
        const colours = mean === null || scale === null ? null : rampColours(mean, scale)
        const isCurrent = current?.from === from && current.to === to
        return (
          <MatrixCell
            key={to}
            {...place}
            words={`${pair(from, to)}: ${cellWords(cell, measure)}${isCurrent ? ', being captured' : ''}`}
            number={mean === null ? emptyMark(cell) : shortMeasure(measure, mean)}
            note={cell === null ? '' : noteOf(cell)}
            background={colours === null ? undefined : css(colours.background)}
            ink={colours === null ? undefined : css(colours.ink)}
            isSelected={selected?.from === from && selected.to === to}
            isCurrent={isCurrent}
          />
        )
      }}
    />
  )
}

function emptyMark(cell: CellStatistics | null): string {
  return cell !== null && cell.withoutValue > 0 ? UNDEFINED_TEXT : ''
}

function noteOf({ n, flagged, excluded, undecided }: CellStatistics): string {
  return `${n > 0 ? `n ${n}` : ''}${undecided > 0 ? ` ?${undecided}` : ''}${flagged > 0 ? ` ⚑${flagged}` : ''}${excluded > 0 ? ` −${excluded}` : ''}`
}

function cellWords(cell: CellStatistics | null, measure: MatrixMeasure): string {
  if (cell === null) return 'not captured yet'
  const { mean, n, flagged, excluded, undecided, withoutValue } = cell
  const empty = withoutValue > 0 ? 'undefined' : 'not captured yet'
  const parts = [mean === null ? empty : `${shortMeasure(measure, mean)} ${displayUnit(measure)}`.trim()]
  if (n > 0) parts.push(plural(n, 'capture'))
  if (undecided > 0) parts.push(`${undecided} undecided`)
  if (flagged > 0) parts.push(`${flagged} flagged`)
  if (excluded > 0) parts.push(`${excluded} excluded`)
  return parts.join(', ')
}
