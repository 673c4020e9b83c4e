import { useCallback, useMemo, useRef, useState, type RefObject } from 'react'
import { useHostState } from '../../client/host.tsx'
import { useRecipes } from '../../client/queries.ts'
import type { ReviewDecision } from '#shared/domain/views.ts'
import { OpenDemo } from '../../parts/open-demo.tsx'
import { EmptyState } from '../../ui/controls.tsx'
import { useShortcut } from '../../ui/shortcuts.ts'
import { useCalm } from '../../ui/use-settled.ts'
import { useKept } from '../../ui/use-kept.ts'
import { useStable } from '../../ui/use-stable.ts'
import { hostFilter, listedMeasure, asksSomething, type DeskFilter } from '../../navigation/address.ts'
import { CaptureHead } from './capture-head.tsx'
import { CaptureList, type CaptureListHandle } from './capture-list.tsx'
import { DeskPanels, type PanelId } from './desk-panels.tsx'
import { FilterBar, type FilterBarHandle } from './filter-bar.tsx'
import type { FlagListHandle } from './flag-list.tsx'
import { PlotPane, type PlotPaneHandle } from './plot-pane.tsx'
import type { ReviewPanelHandle } from './review-panel.tsx'
import { useAddress } from './use-address.ts'
import { useCaptureCount } from './use-capture-pages.ts'
import { useDeskPlot } from './use-desk-plot.ts'
import { useMarks } from './use-marks.ts'
import { usePlace, useQueue } from './use-queue.ts'
import { useShownCapture } from './use-shown-capture.ts'
import { FLAG_WORDS } from '../../ui/words.ts'
import './traces.css'
import './list.css'
import './head.css'
import './plot-pane.css'
import './panels.css'
import './review.css'
import './numbers.css'

/** Running through the list faster than this reads a capture only where it stops, ms. */
const REST_MS = 50

export function TracesScreen() {
  const recipeHash = useHostState((state) => state.recipeHash)
  const recipe = useRecipes().data?.find(({ hash }) => hash === recipeHash)?.recipe ?? null
  const [address, change] = useAddress()
  const { captureId, filter } = address
  const asked = useMemo(() => hostFilter(filter, recipeHash), [filter, recipeHash])
  const { index, setChosen } = usePlace(asked, captureId)
  const { shown, problem } = useShownCapture(useCalm(captureId, REST_MS), recipeHash)
  const marks = useMarks(shown, recipeHash)
  const [pinnedId, setPinned] = useKept<number | null>('traces: pinned', null)
  const { shown: pinned } = useShownCapture(pinnedId, recipeHash)
  const plot = useDeskPlot(shown, marks.preview, recipe)
  const [panel, setPanel] = useState<PanelId>('flags')
  const [flag, setFlag] = useState<{ readonly captureId: number; readonly index: number } | null>(null)

  const list = useRef<CaptureListHandle>(null)
  const filters = useRef<FilterBarHandle>(null)
  const flags = useRef<FlagListHandle>(null)
  const pane = useRef<PlotPaneHandle>(null)
  const review = useRef<ReviewPanelHandle>(null)

  const setCapture = useCallback((id: number) => change((now) => ({ ...now, captureId: id })), [change])
  const setFilter = useCallback((next: DeskFilter) => change((now) => ({ ...now, filter: next })), [change])
  const choose = useCallback(
    (id: number, at: number) => {
      setChosen({ captureId: id, index: at })
      setCapture(id)
    },
    [setChosen, setCapture],
  )
  const queue = useQueue(asked, captureId, setCapture)
  const { total } = useCaptureCount(asked)

  const info = shown?.detail.info ?? null
  const shownFlag = flag !== null && flag.captureId === info?.id ? flag.index : null
  const shaded = useMemo(() => {
    const pointed = shownFlag === null ? undefined : shown?.detail.result?.flags[shownFlag]
    if (pointed === undefined || pointed.span === null || info === null) return null
    const [first, last] = pointed.span
    return {
      span: [first / info.sampleRateHz, last / info.sampleRateHz] as const,
      label: FLAG_WORDS[pointed.id],
    }
  }, [shown, shownFlag, info])
  const showFlag = useStable((at: number | null) => {
    if (info === null) return
    setFlag(at === null ? null : { captureId: info.id, index: at })
    const span = at === null ? null : (shown?.detail.result?.flags[at]?.span ?? null)
    if (at !== null) plot.lookAt(span === null ? null : [span[0] / info.sampleRateHz, span[1] / info.sampleRateHz])
  })

  const decided = useStable(() => queue.go('next'))

  useShortcut('list', () => list.current?.focus())
  useShortcut('search', () => filters.current?.focus())
  useShortcut('nextDoubt', () => queue.go('next'))
  useShortcut('previousDoubt', () => queue.go('previous'))
  const pin = useStable(() => setPinned(pinnedId === null ? captureId : null))
  useShortcut('pin', pin)
  useShortcut('plot', () => pane.current?.focus())
  useShortcut('flags', () => {
    setPanel('flags')
    onceThere(flags, (panel) => panel.focus())
  })
  const decide = (decision: ReviewDecision) => {
    setPanel('review')
    onceThere(review, (panel) => panel.decide(decision))
  }
  useShortcut('keep', () => decide('keep'))
  useShortcut('exclude', () => decide('exclude'))
  useShortcut('retake', () => decide('retake'))
  useShortcut('marks', () => decide('override'))

  return (
    <div className="panes traces">
      <section className="pane traces-list" aria-label="Captures">
        <FilterBar ref={filters} filter={filter} onFilter={setFilter} />
        <CaptureList
          ref={list}
          filter={asked}
          measure={listedMeasure(filter.sort)}
          captureId={captureId}
          index={index}
          onChoose={choose}
          empty={
            asksSomething(filter)
              ? 'No capture matches these filters.'
              : 'The archive holds no captures yet. Run a sweep on the Bench.'
          }
        />
      </section>
      <div className="traces-main">
        <CaptureHead shown={shown} queue={queue} onCapture={setCapture} pinned={pinnedId} onPin={pin} />
        {shown === null ? (
          <div className="pane traces-empty empty-room">
            {problem !== '' ? (
              <EmptyState title="The capture cannot be shown">{problem}</EmptyState>
            ) : captureId !== null ? (
              <p>Reading the capture…</p>
            ) : total === 0 && !asksSomething(filter) ? (
              <EmptyState title="No captures yet">
                Run a sweep on the <a href="#/bench">Bench</a>, or <a href="#/import">import</a> recordings.{' '}
                <OpenDemo />
              </EmptyState>
            ) : (
              <EmptyState title="No capture chosen">
                Choose one in the list (L, then arrow keys), or go to the first doubtful one (N). <OpenDemo />
              </EmptyState>
            )}
          </div>
        ) : (
          <>
            <PlotPane
              ref={pane}
              shown={shown}
              recipeHash={recipeHash}
              recipeName={recipe?.name ?? recipeHash}
              plot={plot}
              marks={marks}
              pinned={pinnedId === null || pinned === null || pinned.detail.info.id === captureId ? null : pinned}
              shaded={shaded}
            />
            <DeskPanels
              panel={panel}
              onPanel={setPanel}
              shown={shown}
              recipeHash={recipeHash}
              recipeName={recipe?.name ?? recipeHash}
              measure={listedMeasure(filter.sort)}
              marks={marks}
              originS={plot.originS}
              origin={plot.base?.origin ?? 'start of record'}
              recordS={plot.recordS}
              shownFlag={shownFlag}
              onFlag={showFlag}
              flags={flags}
              review={review}
              onCapture={setCapture}
              onDecided={decided}
              queued={queue.index !== null}
            />
          </>
        )}
      </div>
    </div>
  )
}

/** At once when the panel is there, else after the drawing that brings it. */
function onceThere<T>(ref: RefObject<T | null>, run: (panel: T) => void) {
  if (ref.current !== null) {
    run(ref.current)
    return
  }
  requestAnimationFrame(() =>
    requestAnimationFrame(() => {
      if (ref.current !== null) run(ref.current)
    }),
  )
}
