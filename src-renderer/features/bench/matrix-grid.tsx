import { byPair, pairKey } from '#shared/domain/level-pair.ts'
import type { CellStatistics } from '#shared/findings/matrix.ts'
import { css } from '../../ui/colour.ts'
import { displayUnit, pair, plural, shortMeasure, UNDEFINED_TEXT } from '../../ui/format.ts'
import { MatrixCell, MatrixTable } from '../../ui/matrix-table.tsx'
import { badness, judge, type Judgement, type MeasureScale } from '../../ui/measure-scale.ts'
import type { MatrixMeasure } from '../../ui/measures-shown.ts'
import { SCALE_INK, sequential } from '../../ui/sequential-colours.ts'
import { useTheme } from '../../ui/theme.ts'

export interface CellKey {
  readonly from: number
  readonly to: number
}

export interface MatrixGridProps {
  readonly label: string
  readonly levels: readonly number[]
  readonly cells: readonly CellStatistics[]
  readonly measure: MatrixMeasure
  readonly scale: MeasureScale
  /** Captures of these transitions are stored, but not measured under the recipe. */
  readonly hasUnmeasured: boolean
  readonly selected: CellKey | null
  /** The transition being captured. */
  readonly current: CellKey | null
  readonly onOpen: (cell: CellKey) => void
}

/** What the captures of each transition come to. */
export function MatrixGrid(props: MatrixGridProps) {
  const { measure, scale, selected, current, onOpen } = props
  const theme = useTheme()
  const byKey = byPair(props.cells)
  const ink = css(SCALE_INK[theme])
  const empty = props.hasUnmeasured ? 'not measured under this recipe' : 'not captured yet'
  return (
    <MatrixTable
      label={props.label}
      levels={props.levels}
      onOpen={(from, to) => onOpen({ from, to })}
      renderCell={(place) => {
        const { from, to } = place
        const cell = byKey.get(pairKey(place)) ?? null
        const mean = cell?.mean ?? null
        const isCurrent = current?.from === from && current.to === to
        const judgement = mean === null ? 'inside' : judge(mean, cell?.u95 ?? null, scale)
        return (
          <MatrixCell
            key={to}
            {...place}
            words={`${pair(from, to)}: ${cellWords(cell, measure, judgement, scale, empty)}${isCurrent ? ', being captured' : ''}`}
            number={mean === null ? emptyMark(cell) : shortMeasure(measure, mean)}
            note={cell === null ? '' : noteOf(cell)}
            background={mean === null ? undefined : css(sequential(badness(mean, scale), theme))}
            ink={mean === null ? undefined : ink}
            mark={judgement === 'inside' ? undefined : judgement}
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

function cellWords(
  cell: CellStatistics | null,
  measure: MatrixMeasure,
  judgement: Judgement,
  scale: MeasureScale,
  whenEmpty: string,
): string {
  if (cell === null) return whenEmpty
  const { mean, n, flagged, excluded, undecided, withoutValue } = cell
  const empty = withoutValue > 0 ? 'undefined' : whenEmpty
  const parts = [mean === null ? empty : `${shortMeasure(measure, mean)} ${displayUnit(measure)}`.trim()]
  if (n > 0) parts.push(plural(n, 'capture'))
  if (undecided > 0) parts.push(`${undecided} undecided`)
  if (judgement === 'outside') parts.push(`outside ${scale.limitName}`)
  if (judgement === 'undecided') parts.push(`${scale.limitName} lies within its U95`)
  if (flagged > 0) parts.push(`${flagged} flagged`)
  if (excluded > 0) parts.push(`${excluded} excluded`)
  return parts.join(', ')
}
