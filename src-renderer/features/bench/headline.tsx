/** What the sweep comes to: the numbers a decision is made on, before any matrix or trace. */
import { Fragment, memo, type ReactNode } from 'react'
import { Button } from 'react-aria-components'
import type { Sweep } from '#shared/domain/capture.ts'
import type { MeasureId } from '#shared/domain/measures.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { MatrixData } from '#shared/domain/views.ts'
import { repeatsExpected } from '#shared/findings/matrix.ts'
import { summarise, type CellValue, type SummaryValue, type SweepSummary } from '#shared/findings/summary.ts'
import { decimalsFor } from '#shared/domain/quantity-text.ts'
import { displayUnit, fixed, hertz, milliseconds, pair, plural, shortMeasure, UNDEFINED_TEXT } from '../../ui/format.ts'
import { windowOf } from '../../ui/measure-scale.ts'
import { useStable } from '../../ui/use-stable.ts'
import type { CellKey } from './matrix-grid.tsx'

export interface HeadlineProps {
  readonly sweep: Sweep
  readonly running: boolean
  readonly data: MatrixData | null
  readonly recipe: Recipe | null
  /** Shows a transition with its captures and a trace of it, under the measure it stands for. */
  readonly onOpen: (cell: CellKey, measure: 'transition_duration_s' | 'overshoot_pct') => void
}

export function Headline({ sweep, running, data, recipe, onOpen }: HeadlineProps) {
  const repeats = repeatsExpected(sweep)
  const times = data === null || recipe === null ? null : summarise(data, recipe, { repeats })
  const over = data === null || recipe === null ? null : summarise(data, recipe, { measure: 'overshoot_pct', repeats })
  const { refreshHz } = sweep.plan
  return (
    <section className="pane headline" aria-label={`Result of sweep ${sweep.id}`}>
      {times === null || over === null ? (
        <p className="hint">{recipe === null ? 'Reading the recipe…' : 'Reading the results…'}</p>
      ) : (
        <>
          <dl className="headline-figures">
            <Figure
              label="Mean duration"
              measure="transition_duration_s"
              value={times.mean}
              note={countOf(times.mean)}
            />
            <Worst
              label="Worst duration"
              measure="transition_duration_s"
              value={times.worst}
              isBad={times.worst.value !== null && times.worst.value > 1 / refreshHz}
              onOpen={(cell) => onOpen(cell, 'transition_duration_s')}
            />
            {recipe === null ? null : <InWindow summary={times} refreshHz={refreshHz} inWindow={recipe.inWindow} />}
            <Figure label="Mean overshoot" measure="overshoot_pct" value={over.mean} note={countOf(over.mean)} />
            <Worst
              label="Worst overshoot"
              measure="overshoot_pct"
              value={over.worst}
              isBad={over.worst.value !== null && over.worst.value > over.overshootLimitPct}
              badNote={`${share(over)} of all captures over ${fixed(over.overshootLimitPct, 0)} %`}
              onOpen={(cell) => onOpen(cell, 'overshoot_pct')}
            />
            <Figure
              label={`Dark steps, to ${times.darkCode}`}
              measure="transition_duration_s"
              value={times.darkMean}
              note={countOf(times.darkMean)}
            />
            <Captures summary={times} running={running} />
          </dl>
        </>
      )}
    </section>
  )
}

const share = ({ overshootOverLimitShare: { value } }: SweepSummary): string =>
  value === null ? UNDEFINED_TEXT : `${fixed(value, value < 10 && value > 0 ? 1 : 0)} %`

const countOf = ({ n, cells }: SummaryValue): string => (n === 0 ? '' : `n ${n}, ${plural(cells, 'transition')}`)

/** A figure and `± 0.12` in its unit, to the same decimal; `U95 unknown` where the repeats give none. */
function texts(measure: MeasureId, { value, u95 }: SummaryValue): readonly [value: string, interval: string] {
  if (value === null) return [UNDEFINED_TEXT, '']
  if (u95 === null) return [shortMeasure(measure, value), 'U95 unknown']
  const scale = displayUnit(measure) === 'ms' ? 1000 : 1
  const u = u95 * scale
  const decimals = decimalsFor(u, 4)
  return [u > 0 ? fixed(value * scale, decimals) : shortMeasure(measure, value), `± ${fixed(u, decimals)}`]
}

function Box(props: { label: string; title?: string; isBad?: boolean; children: ReactNode }) {
  return (
    <div className="headline-figure" {...(props.title === undefined ? {} : { title: props.title })}>
      <dt>
        {props.isBad === true ? (
          <span className="warn-text" aria-hidden="true">
            ▲{' '}
          </span>
        ) : null}
        {props.label}
      </dt>
      <dd>{props.children}</dd>
    </div>
  )
}

function Value({ measure, value, isBad = false }: { measure: MeasureId; value: SummaryValue; isBad?: boolean }) {
  const [text, interval] = texts(measure, value)
  return (
    <span className={isBad ? 'headline-value warn-text' : 'headline-value'}>
      <span>{text}</span> {value.value === null ? null : <span className="headline-unit">{displayUnit(measure)}</span>}{' '}
      <span className="headline-u">{interval}</span>
    </span>
  )
}

function Figure(props: { label: string; measure: MeasureId; value: SummaryValue; note: string }) {
  return (
    <Box label={props.label} title={props.value.note}>
      <Value measure={props.measure} value={props.value} />
      <span className="headline-note">{props.value.value === null ? 'none in this sweep' : props.note}</span>
    </Box>
  )
}

function Worst(props: {
  label: string
  measure: MeasureId
  value: CellValue
  isBad: boolean
  badNote?: string
  onOpen: (cell: CellKey) => void
}) {
  const { from, to, n } = props.value
  const onOpen = useStable(props.onOpen)
  return (
    <Box label={props.label} title={props.value.note} isBad={props.isBad}>
      <Value measure={props.measure} value={props.value} isBad={props.isBad} />
      {from === null || to === null ? (
        <span className="headline-note">none in this sweep</span>
      ) : (
        <span className="headline-note">
          <OpenPair from={from} to={to} label={props.label} onOpen={onOpen} />
          {props.isBad && props.badNote !== undefined ? `; ${props.badNote}` : `, n ${n}`}
        </span>
      )}
    </Box>
  )
}

/** Drawn again only for another transition: a button is dear, and a new capture seldom is the worst. */
const OpenPair = memo(function OpenPair(props: {
  from: number
  to: number
  label: string
  onOpen: (cell: CellKey) => void
}) {
  const { from, to, label, onOpen } = props
  return (
    <Button
      className="link-button"
      aria-label={`Show ${pair(from, to)}, ${label.toLowerCase()}`}
      onPress={() => onOpen({ from, to })}
    >
      {pair(from, to)}
    </Button>
  )
})

function InWindow(props: { summary: SweepSummary; refreshHz: number; inWindow: Recipe['inWindow'] }) {
  const { value, count, n, undecided, lowPct, highPct } = props.summary.inWindowShare
  const window = windowOf(props.refreshHz, props.inWindow.tolerancePct)
  return (
    <Box label={`In window at ${hertz(props.refreshHz)} Hz`} title={props.summary.inWindowShare.note}>
      <span className="headline-value">
        {value === null ? UNDEFINED_TEXT : fixed(value, value > 0 && value < 10 ? 1 : 0)}
        {value === null ? null : (
          <>
            {' '}
            <span className="headline-unit">%</span>
          </>
        )}{' '}
        {lowPct === null || highPct === null ? null : (
          <span className="headline-u">
            (95 %: {fixed(lowPct, 0)} to {fixed(highPct, 0)})
          </span>
        )}
      </span>
      <span className="headline-note">
        {n === 0
          ? 'undefined, limit'
          : `${count} of ${n} ${props.inWindow.of === 'arrival' ? 'arrived' : 'settled'} within`}{' '}
        {milliseconds(window)} ms
        {undecided > 0 ? `, ${undecided}\u00a0undecided` : ''}
      </span>
    </Box>
  )
}

function Captures({ summary: { counts }, running }: { summary: SweepSummary; running: boolean }) {
  const bits = [
    [counts.flagged, 'flagged'],
    [counts.excluded, 'excluded'],
    [counts.missing ?? 0, running ? 'to come' : 'missing'],
    [counts.withoutValue, 'undefined'],
    [counts.unmeasured, 'not measured'],
  ] as const
  const told = bits.filter(([n], i) => n > 0 || i < 2)
  return (
    <Box label="Captures">
      <span className="headline-value">{counts.captures}</span>
      <span className="headline-note">
        {told.map(([n, word], i) => (
          <Fragment key={word}>
            {i > 0 ? ' ' : ''}
            <span className={n > 0 && word !== 'to come' ? 'headline-count warn-text' : 'headline-count'}>
              {n} {word}
              {i < told.length - 1 ? ',' : ''}
            </span>
          </Fragment>
        ))}
      </span>
    </Box>
  )
}
