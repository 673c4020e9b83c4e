/** Matrices and summaries as text. */
import { MEASURES, type MeasureId } from '#shared/domain/measures.ts'
import { plural, withUncertainty } from '#shared/domain/quantity-text.ts'
import type { CellStatistics } from '#shared/findings/matrix.ts'
import type { ShareValue, SummaryValue, SweepSummary } from '#shared/findings/summary.ts'
import { textTable } from './output.ts'
import { shownUnit, shownValue, twoDigits, withUnit } from './quantities.ts'

const MARKS = [
  { of: 'flagged', mark: '!', meaning: 'some of its captures carry a flag' },
  { of: 'overridden', mark: '*', meaning: 'some of its captures are measured with marks moved by hand' },
  { of: 'excluded', mark: 'x', meaning: 'some of its captures are excluded' },
  { of: 'undecided', mark: '?', meaning: 'undecided for some of its captures' },
] as const

/** Rows are the levels before the change, columns those after it; marks say what is behind a cell's mean. */
export function matrixText(cells: readonly CellStatistics[], measure: MeasureId): string {
  const levels = [...new Set(cells.flatMap((cell) => [cell.from, cell.to]))]
  levels.sort((a, b) => a - b)
  const at = (from: number, to: number): string => {
    if (from === to) return ''
    const cell = cells.find((candidate) => candidate.from === from && candidate.to === to)
    if (cell === undefined || cell.mean === null) return '–'
    return `${shownValue(measure, cell.mean)}${MARKS.map(({ of, mark }) => (cell[of] > 0 ? mark : '')).join('')}`
  }
  const unit = shownUnit(measure)
  return [
    `${MEASURES[measure].label}${unit === '' ? '' : `, ${unit}`}; from level (rows) to level (columns)`,
    textTable(
      ['', ...levels.map(String)],
      levels.map((from) => [from, ...levels.map((to) => at(from, to))]),
    ),
    ...MARKS.map(({ of, mark, meaning }) => (cells.some((cell) => cell[of] > 0) ? `${mark} = ${meaning}` : '')),
  ]
    .filter((line) => line !== '')
    .join('\n')
}

/** Every cell with its repeats. */
export function cellsText(cells: readonly CellStatistics[], measure: MeasureId): string {
  const unit = shownUnit(measure)
  const show = (value: number | null): string => shownValue(measure, value)
  return textTable(
    [
      'from',
      'to',
      'n',
      `mean ± U95${unit === '' ? '' : `, ${unit}`}`,
      's',
      'dof',
      'min',
      'median',
      'max',
      'undecided',
      'excluded',
      'missing',
      'flagged',
      'by hand',
      '',
    ],
    cells.map((cell) => [
      cell.from,
      cell.to,
      cell.n,
      cell.mean === null || cell.u95 === null
        ? show(cell.mean)
        : withUncertainty(cell.mean, cell.u95, MEASURES[measure].unit),
      cell.s === null ? '–' : twoDigits(measure, cell.s),
      cell.dof === null || cell.dof === Infinity ? '' : Math.floor(cell.dof + 1e-9),
      show(cell.min),
      show(cell.median),
      show(cell.max),
      cell.undecided,
      cell.excluded,
      cell.missing,
      cell.flagged,
      cell.overridden,
      cell.note,
    ]),
  )
}

const share = (
  name: string,
  { value: v, lowPct, highPct, count, undecided, n, note }: ShareValue,
): (string | number)[] => [
  name,
  `${v === null ? '–' : `${v.toFixed(1)} %`}${lowPct === null || highPct === null ? '' : ` (${lowPct.toFixed(1)} to ${highPct.toFixed(1)} %)`}`,
  `${count} of ${n}${undecided === 0 || note !== '' ? '' : `, ${undecided} undecided`}`,
  note,
]

/** Of an import nothing can be missing: no plan said how many captures there should be. */
export function summaryText(summary: SweepSummary, imported = false): string {
  const { measure, counts } = summary
  const value = (
    name: string,
    { value: v, u95, n, cells, note }: SummaryValue,
    id: MeasureId = measure,
  ): (string | number)[] => [
    name,
    v === null || u95 === null ? withUnit(id, v) : withUncertainty(v, u95, MEASURES[id].unit),
    `n ${n} in ${cells}`,
    note,
  ]
  const { from, to } = summary.worst
  const left = [
    `${plural(counts.captures, 'capture')} in ${plural(counts.transitions, 'transition')}`,
    `${counts.excluded} excluded`,
    `${counts.withoutValue} without a value`,
    `${counts.flagged} flagged`,
    ...(counts.overridden === 0 ? [] : [`${counts.overridden} measured with marks moved by hand`]),
    `${counts.unmeasured} not measured yet`,
    ...(counts.missing === null || imported ? [] : [`${counts.missing} missing`]),
  ]
  return [
    textTable(
      [MEASURES[measure].label, 'value, 95 %', 'captures', ''],
      [
        value('mean', summary.mean),
        value('median', summary.median),
        value(from === null ? 'worst' : `worst (${from} → ${to})`, summary.worst),
        value('rise mean', summary.riseMean),
        value('fall mean', summary.fallMean),
        value(`dark steps (both ≤ ${summary.darkCode})`, summary.darkMean),
        share('in window', summary.inWindowShare),
        value('overshoot mean', summary.overshootMean, 'overshoot_pct'),
        share(`overshoot over ${summary.overshootLimitPct} %`, summary.overshootOverLimitShare),
      ],
    ),
    `${left.join(', ')}.`,
  ].join('\n')
}
