import { byPair, pairKey } from '#shared/domain/level-pair.ts'
import type { MeasureId } from '#shared/domain/measures.ts'
import type { CellComparison } from '#shared/findings/compare.ts'
import { goTo } from '../../navigation/route.ts'
import { css } from '../../ui/colour.ts'
import { differenceColours } from '../../ui/difference-colours.ts'
import { pair, plural, UNDEFINED_TEXT } from '../../ui/format.ts'
import { MatrixCell, MatrixTable } from '../../ui/matrix-table.tsx'
import { useTheme } from '../../ui/theme.ts'
import { bareDifference, differenceText, meanText, tracesOf } from './difference-text.ts'

export interface DifferenceGridProps {
  readonly label: string
  readonly sweepId: number
  readonly measure: MeasureId
  readonly cells: readonly CellComparison[]
  /** Difference at which the colours end. */
  readonly size: number
}

/** Differences of a sweep's transitions, old recipe to new; opening one leads to its traces. */
export function DifferenceGrid({ label, sweepId, measure, cells, size }: DifferenceGridProps) {
  const theme = useTheme()
  const levels = [...new Set(cells.flatMap(({ from, to }) => [from, to]))].sort((a, b) => a - b)
  const byKey = byPair(cells)
  return (
    <MatrixTable
      label={label}
      levels={levels}
      onOpen={(from, to) => goTo(tracesOf(sweepId, from, to))}
      renderCell={(place) => {
        const cell = byKey.get(pairKey(place)) ?? null
        const difference = cell?.difference ?? null
        const colours = difference === null ? null : differenceColours(difference, size, theme)
        return (
          <MatrixCell
            key={place.to}
            {...place}
            words={cellWords(place.from, place.to, cell, measure)}
            number={difference === null ? emptyMark(cell) : bareDifference(measure, difference)}
            note={cell === null ? '' : noteOf(cell)}
            background={colours === null ? undefined : css(colours.background)}
            ink={colours === null ? undefined : css(colours.ink)}
          />
        )
      }}
    />
  )
}

function noteOf({ n, onlyA, onlyB }: CellComparison): string {
  return `${n === 0 ? '' : `n ${n}`}${onlyA + onlyB > 0 ? ` +${onlyA} −${onlyB}` : ''}`
}

function emptyMark(cell: CellComparison | null): string {
  return cell !== null && cell.onlyA + cell.onlyB > 0 ? UNDEFINED_TEXT : ''
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
