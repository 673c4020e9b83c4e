import { useVirtualizer, type Virtualizer } from '@tanstack/react-virtual'
import { memo, useEffect, useImperativeHandle, useRef, type KeyboardEvent, type Ref } from 'react'
import type { AcceptedFlag } from '#shared/domain/desk.ts'
import { MEASURES, type MeasureId } from '#shared/domain/measures.ts'
import type { FlagId } from '#shared/domain/result.ts'
import type { CaptureRow } from '#shared/domain/views.ts'
import { count, displayUnit, pair, plural, printMeasure, UNDEFINED_TEXT } from '../../ui/format.ts'
import { useStable } from '../../ui/use-stable.ts'
import { FLAG_WORDS, REVIEW_WORDS, VERDICT_WORDS } from '../../ui/words.ts'
import { moveInList } from './list-moves.ts'
import { useAccepted } from './use-accepted.ts'
import { useCaptureCount, useCapturePages, type ListFilter } from './use-capture-pages.ts'

const ROW_PX = 48
const OVERSCAN = 12
/** More than stand in a window of usual height, with those beyond its edges. */
const LINES = 64

export interface CaptureListHandle {
  focus(): void
}

export interface CaptureListProps {
  readonly ref: Ref<CaptureListHandle>
  readonly filter: ListFilter
  readonly measure: MeasureId
  readonly captureId: number | null
  /** Place of the shown capture in this list, where it is known; null when it does not match the filters. */
  readonly index: number | null
  readonly onChoose: (captureId: number, index: number) => void
  /** Said when nothing matches. */
  readonly empty: string
}

/**
 * Captures as a grid of which only the rows in view exist. The grid holds the focus; the shown capture is its active
 * row, so moving the row shows its trace.
 */
export function CaptureList({ ref, ...props }: CaptureListProps) {
  // The virtualizer is one object that changes within; what is remembered by its identity would go stale.
  'use no memo'
  const { filter, measure, captureId, index, onChoose } = props
  const box = useRef<HTMLDivElement>(null)
  /** Row that is to be shown as soon as its page is here. */
  const wanted = useRef<number | null>(null)
  const left = useRef<number | null>(null)
  const { total, problem } = useCaptureCount(filter)
  const accepted = useAccepted()
  const virtual = useVirtualizer({
    count: total ?? 0,
    getScrollElement: () => box.current,
    estimateSize: () => ROW_PX,
    overscan: OVERSCAN,
  })
  const items = virtual.getVirtualItems()
  const rowAt = useCapturePages(filter, items[0]?.index ?? 0, items.at(-1)?.index ?? 0)

  useImperativeHandle(ref, () => ({ focus: () => box.current?.focus() }), [])
  useEffect(() => {
    if (index !== null) left.current = index
    else if (captureId === null) left.current = null
  }, [index, captureId])
  useEffect(() => {
    left.current = null
    wanted.current = null
  }, [filter])
  useEffect(() => {
    if (index !== null && total !== null && index < total) bringIntoView(box.current, virtual, index)
    // The virtualizer is the same object all along.
    // oxlint-disable-next-line react/exhaustive-deps
  }, [index, total])

  const choose = (at: number) => {
    const row = rowAt(at)
    if (row === null) {
      wanted.current = at
      bringIntoView(box.current, virtual, at)
      return
    }
    wanted.current = null
    onChoose(row.info.id, at)
  }
  const press = useStable(choose)
  useEffect(() => {
    if (wanted.current !== null && rowAt(wanted.current) !== null) choose(wanted.current)
  })

  const onKeyDown = (event: KeyboardEvent) => {
    if (event.ctrlKey || event.altKey || event.metaKey) return
    const page = Math.floor((box.current?.clientHeight ?? ROW_PX) / ROW_PX)
    const next = moveInList(wanted.current ?? index, event.key, total ?? 0, page, left.current)
    if (next === null) return
    event.preventDefault()
    choose(next)
  }
  // A line that leaves at one end comes back at the other as another row: changed, not made anew.
  const lines = Math.max(LINES, items.length)
  const active = index !== null && items.some((item) => item.index === index) ? rowId(index) : undefined
  return (
    <div className="capture-list">
      <p className="list-count" aria-hidden="true">
        {total === null
          ? 'Reading…'
          : `${index === null ? '' : `Number ${count(index + 1)} of `}${plural(total, 'match', 'matches')}`}
      </p>
      <div className="capture-heads" aria-hidden="true">
        <span>Capture</span>
        <span>Levels</span>
        <span className="align-end">
          {measure === 'transition_duration_s' ? 'Duration' : MEASURES[measure].label}
          {displayUnit(measure) === '' ? '' : `, ${displayUnit(measure)}`}
        </span>
      </div>
      <div
        ref={box}
        className="capture-rows"
        role="grid"
        aria-label={`Captures, ${total === null ? 'being read' : plural(total, 'match', 'matches')}`}
        aria-rowcount={total ?? -1}
        aria-colcount={4}
        tabIndex={0}
        aria-activedescendant={active}
        onKeyDown={onKeyDown}
      >
        <div className="capture-space" role="rowgroup" style={{ height: virtual.getTotalSize() }}>
          {items.map((item) => {
            const row = rowAt(item.index)
            return (
              <CaptureLine
                key={item.index % lines}
                index={item.index}
                top={item.start}
                row={row}
                measure={measure}
                accepted={accepted}
                isShown={row !== null && row.info.id === captureId}
                onPress={press}
              />
            )
          })}
        </div>
      </div>
      {problem !== '' ? <p className="list-empty">{problem}</p> : null}
      {total === 0 ? <p className="list-empty">{props.empty}</p> : null}
    </div>
  )
}

/** Rows are all of one height, so that nothing has to be laid out to know whether one is in view. */
function bringIntoView(
  box: HTMLElement | null,
  { scrollOffset, scrollRect }: Pick<Virtualizer<HTMLDivElement, Element>, 'scrollOffset' | 'scrollRect'>,
  index: number,
): void {
  if (box === null) return
  const from = scrollOffset ?? box.scrollTop
  const height = scrollRect?.height || box.clientHeight
  const top = index * ROW_PX
  if (top >= from && top + ROW_PX <= from + height) return
  box.scrollTop = top < from ? top : top + ROW_PX - height
}

const rowId = (index: number): string => `capture-row-${index}`

interface LineProps {
  readonly index: number
  readonly top: number
  readonly row: CaptureRow | null
  readonly measure: MeasureId
  readonly accepted: readonly AcceptedFlag[]
  readonly isShown: boolean
  readonly onPress: (index: number) => void
}

const CaptureLine = memo(function CaptureLine(props: LineProps) {
  const { index, top, row, measure, accepted, isShown, onPress } = props
  const isAccepted = (flag: FlagId) => accepted.some((one) => one.flag === flag && one.sweepId === row?.info.sweepId)
  return (
    // Keys belong to the grid, which holds the focus.
    <div
      id={rowId(index)}
      role="row"
      aria-rowindex={index + 1}
      aria-selected={isShown}
      className="capture-line"
      style={{ transform: `translateY(${top}px)`, height: ROW_PX }}
      onClick={() => onPress(index)}
    >
      {row === null ? (
        <span role="gridcell" className="capture-waits">
          …
        </span>
      ) : (
        <>
          <span role="gridcell" className="capture-id">
            #{row.info.id}
          </span>
          <span role="gridcell" className="capture-pair">
            {pair(row.info.from, row.info.to)}
          </span>
          <span role="gridcell" className="capture-value">
            {valueText(row, measure)}
          </span>
          <span role="gridcell" className="capture-state">
            {stateText(row) === '' ? null : (
              <span className={row.review === null ? '' : 'capture-review'}>{stateText(row)} </span>
            )}
            {row.flags.length === 0 ? null : (
              <span className="capture-flags" data-accepted={row.flags.every(isAccepted)}>
                <span aria-hidden="true">⚑ </span>
                {row.flags.map((flag) => `${FLAG_WORDS[flag]}${isAccepted(flag) ? ' (accepted)' : ''}`).join(', ')}
              </span>
            )}
          </span>
        </>
      )}
    </div>
  )
})

function valueText(row: CaptureRow, measure: MeasureId): string {
  const value = row.values?.[measure] ?? null
  if (value === null) return UNDEFINED_TEXT
  if (measure === 'in_window') return value >= 0.5 ? 'in' : 'out'
  const { text, unit } = printMeasure(measure, value)
  return unit === 'mV' ? `${text} mV` : text
}

function stateText(row: CaptureRow): string {
  const parts = [
    row.info.verdict === 'good' ? '' : VERDICT_WORDS[row.info.verdict],
    row.review === null ? '' : REVIEW_WORDS[row.review],
    row.overridden && row.review !== 'override' ? 'marks moved by hand' : '',
    row.superseded ? 'replaced by a retake' : '',
    row.noted ? 'noted' : '',
  ].filter((part) => part !== '')
  if (parts.length > 0) return parts.join(', ')
  if (row.values === null) return 'not measured under this recipe'
  return row.flags.length === 0 ? 'no flags' : ''
}
