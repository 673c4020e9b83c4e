import { memo, useState } from 'react'
import type { Sweep } from '#shared/domain/capture.ts'
import type { CaptureFilter, CaptureRow } from '#shared/domain/views.ts'
import type { TimeView } from '../../plot/trace-plot.tsx'
import { useCaptures } from '../../client/queries.ts'
import { Action, Segmented } from '../../ui/controls.tsx'
import { count, pair } from '../../ui/format.ts'
import { parseTyped } from '../../ui/slider-scale.ts'

type ExampleOrder = 'doubtful' | 'typical' | 'all'

const ORDERS = [
  { id: 'doubtful', label: 'Doubtful' },
  { id: 'typical', label: 'Typical' },
  { id: 'all', label: 'All' },
] as const

const VIEWS = [
  { id: 'edge', label: 'Edge' },
  { id: 'record', label: 'Whole record' },
] as const

export interface Example {
  readonly row: CaptureRow | null
  readonly order: ExampleOrder
  readonly setOrder: (order: ExampleOrder) => void
  /** 1-based place in the order, and how many there are. */
  readonly place: number
  readonly total: number
  readonly go: (place: number) => void
  readonly isReading: boolean
}

/** Doubtful: most doubts first. Typical: by duration, begun in the middle. All: as they were captured. */
const SORTS: Readonly<Record<ExampleOrder, CaptureFilter['sort']>> = {
  doubtful: { by: 'flags', descending: true },
  typical: { by: 'transition_duration_s', descending: false },
  all: { by: 'id', descending: false },
}

/** The capture on which a recipe is tried: one place in an ordered list of the sweep's good captures. */
export function useExample(sweep: Sweep | null, recipeHash: string): Example {
  const [chosen, setChosen] = useState<ExampleOrder | null>(null)
  const [at, setAt] = useState<number | null>(null)
  const common = { recipeHash, verdict: 'good' as const, limit: 1, ...(sweep === null ? {} : { sweepId: sweep.id }) }
  const doubts = useCaptures({ ...common, doubtful: true, sort: SORTS.doubtful }, sweep !== null)
  const order = chosen ?? (doubts.data !== undefined && doubts.data.total === 0 ? 'typical' : 'doubtful')
  const all = useCaptures({ ...common, sort: SORTS.all }, sweep !== null)
  const total = (order === 'doubtful' ? doubts.data?.total : all.data?.total) ?? 0
  const first = order === 'typical' ? Math.ceil(total / 2) : 1
  const place = Math.min(Math.max(1, at ?? first), Math.max(1, total))
  const page = useCaptures(
    { ...common, sort: SORTS[order], offset: place - 1, ...(order === 'doubtful' ? { doubtful: true } : {}) },
    sweep !== null && total > 0,
  )
  return {
    row: total === 0 ? null : (page.data?.rows[0] ?? null),
    order,
    setOrder: (next) => {
      setChosen(next)
      setAt(null)
    },
    place,
    total,
    go: setAt,
    isReading: doubts.isFetching || all.isFetching || page.isFetching,
  }
}

/** Stands still while a slider moves the trace below it. */
export const ExampleChoice = memo(function ExampleChoice(props: {
  readonly example: Example
  readonly view: TimeView
  readonly onView: (view: TimeView) => void
}) {
  const { example, view, onView } = props
  const { row, order, place, total } = example
  const [typed, setTyped] = useState<string | null>(null)
  const jump = () => {
    const wanted = typed === null ? null : parseTyped(typed)
    if (wanted !== null) example.go(Math.min(total, Math.max(1, Math.round(wanted))))
    setTyped(null)
  }
  return (
    <div className="example-choice">
      <Segmented label="Which captures" value={order} choices={ORDERS} onChange={example.setOrder} />
      <Action size="small" isDisabled={place <= 1} aria-label="Previous capture" onPress={() => example.go(place - 1)}>
        ◂
      </Action>
      <label className="example-place">
        <span className="visually-hidden">Capture number in this order</span>
        <input
          className="input"
          inputMode="numeric"
          value={typed ?? String(total === 0 ? 0 : place)}
          onChange={(event) => setTyped(event.target.value)}
          onBlur={jump}
          onKeyDown={(event) => {
            if (event.key === 'Enter') jump()
          }}
        />
        <span className="minor">of {count(total)}</span>
      </label>
      <Action size="small" isDisabled={place >= total} aria-label="Next capture" onPress={() => example.go(place + 1)}>
        ▸
      </Action>
      {row === null ? null : (
        <span className="example-name">
          <strong>{pair(row.info.from, row.info.to)}</strong>
          <span className="minor">
            {' '}
            capture {row.info.id}, repeat {row.info.repeat}
          </span>
        </span>
      )}
      <span className="example-view">
        <Segmented
          label="Part of the record in view"
          value={typeof view === 'string' ? view : null}
          onChange={onView}
          choices={VIEWS}
        />
      </span>
    </div>
  )
})
