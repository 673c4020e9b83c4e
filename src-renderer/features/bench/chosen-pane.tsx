/** Beside the matrix: the transition or the trace that is looked at, or what happened. */
import { memo } from 'react'
import type { Sweep } from '#shared/domain/capture.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { MatrixData } from '#shared/domain/views.ts'
import { Tab, TabList, TabPanel, Tabs } from 'react-aria-components'
import { Action } from '../../ui/controls.tsx'
import { hertz, pair } from '../../ui/format.ts'
import { type MatrixMeasure, matrixLabel } from '../../ui/measures-shown.ts'
import { useShortcut } from '../../ui/shortcuts.ts'
import { CellCaptures } from './cell-captures.tsx'
import { EventLog } from './event-log.tsx'
import type { CellKey } from './matrix-grid.tsx'
import { RetakeList, type RetakeListProps } from './retake-list.tsx'
import { LiveTrace } from './live-trace.tsx'
import { StoredTrace } from './stored-trace.tsx'
import { WorstList } from './worst-list.tsx'

export interface ChosenPaneProps {
  readonly sweep: Sweep
  readonly running: boolean
  readonly data: MatrixData | null
  readonly recipe: Recipe | null
  readonly recipeHash: string
  readonly measure: MatrixMeasure
  readonly cell: CellKey | null
  readonly captureId: number | null
  readonly onCell: (cell: CellKey) => void
  readonly onCapture: (id: number) => void
  readonly onBack: () => void
  readonly retakes: RetakeListProps
  readonly tab: string
  readonly onTab: (tab: string) => void
}

export function ChosenPane(props: ChosenPaneProps) {
  const { sweep, cell, captureId, recipe, recipeHash } = props
  useShortcut('live', props.onBack, cell !== null)
  if (cell !== null)
    return (
      <section className="pane chosen-pane" aria-label="Chosen transition" data-cell="true">
        <header className="pane-head">
          <h2 className="pane-pair">{pair(cell.from, cell.to)}</h2>
          <span className="minor chosen-measure">
            <span className="chosen-sweep">
              sweep {sweep.id}, {sweep.plan.setting} at {hertz(sweep.plan.refreshHz)} Hz:{' '}
            </span>
            {matrixLabel(props.measure).toLowerCase()}
          </span>
          <span className="pane-space" />
          <Action size="small" onPress={props.onBack}>
            {props.running ? 'Back to live' : 'Back to the sweep'}
          </Action>
        </header>
        <div className="chosen-cell">
          <CellCaptures
            sweep={sweep}
            cell={cell}
            data={props.data}
            recipeHash={recipeHash}
            measure={props.measure}
            captureId={captureId}
            onCapture={props.onCapture}
          />
        </div>
        {captureId === null ? null : <StoredTrace captureId={captureId} recipe={recipe} recipeHash={recipeHash} />}
      </section>
    )
  return (
    <section className="pane chosen-pane" aria-label={props.running ? 'Newest capture' : 'About the sweep'}>
      {props.running ? (
        <LiveTrace recipe={recipe} sweepId={sweep.id} />
      ) : (
        <WorstList sweep={sweep} data={props.data} recipe={recipe} measure={props.measure} onOpen={props.onCell} />
      )}
      <EventTabs tab={props.tab} onTab={props.onTab} retakes={props.retakes} />
    </section>
  )
}

/** A part of its own, because tabs are dear to draw and a new capture changes nothing about them. */
const EventTabs = memo(function EventTabs({ tab, onTab, retakes }: Pick<ChosenPaneProps, 'tab' | 'onTab' | 'retakes'>) {
  const queued = retakes.retakes.length
  return (
    <Tabs className="tabs" selectedKey={tab} onSelectionChange={(key) => onTab(String(key))}>
      <TabList className="tab-list" aria-label="Events and retakes">
        <Tab id="log" className="tab">
          Events
        </Tab>
        <Tab id="retakes" className="tab">
          Retakes{queued === 0 ? '' : ` ${queued}`}
        </Tab>
      </TabList>
      <TabPanel id="log" className="tab-panel">
        <EventLog />
      </TabPanel>
      <TabPanel id="retakes" className="tab-panel">
        <RetakeList {...retakes} />
      </TabPanel>
    </Tabs>
  )
})

/** The capture of a transition nearest to its mean: the one that shows what the number stands for. */
export function typicalCapture(data: MatrixData | null, { from, to }: CellKey, measure: MatrixMeasure): number | null {
  const entries = data?.cells.find((cell) => cell.from === from && cell.to === to)?.entries ?? []
  const valued = entries.flatMap((entry) => {
    const value = entry.values[measure]
    return entry.excluded || value === null || value === undefined ? [] : [{ id: entry.captureId, value }]
  })
  const mean = valued.reduce((sum, { value }) => sum + value, 0) / Math.max(1, valued.length)
  const nearest = valued.toSorted((a, b) => Math.abs(a.value - mean) - Math.abs(b.value - mean))[0]
  return nearest?.id ?? entries[0]?.captureId ?? null
}
