import { memo, type ReactNode } from 'react'
import { Tab, TabList, TabPanel, Tabs } from 'react-aria-components'
import { EventLog } from './event-log.tsx'
import { RetakeList, type RetakeListProps } from './retake-list.tsx'

export interface BenchTabsProps {
  readonly tab: string
  readonly onTab: (tab: string) => void
  /** Where it shares the tabs; null where it stands beside them. */
  readonly matrix: ReactNode | null
  /** Levels of the cell whose captures are listed; empty when none is open. */
  readonly cell: string
  readonly captures: ReactNode
  readonly retakes: RetakeListProps['retakes']
  readonly obstacle: string
  readonly busy: boolean
  readonly onRetakes: (sweepId: number) => void
}

/** What lies below the trace. Apart from the screen, since every capture changes the screen but not this. */
export const BenchTabs = memo(function BenchTabs(props: BenchTabsProps) {
  const { matrix, cell, retakes } = props
  return (
    <Tabs className="tabs" selectedKey={props.tab} onSelectionChange={(key) => props.onTab(String(key))}>
      <TabList className="tab-list" aria-label="Matrix, captures, retakes and events">
        {matrix === null ? null : (
          <Tab id="matrix" className="tab">
            Matrix
          </Tab>
        )}
        <Tab id="cell" className="tab">
          {`Cell ${cell}`.trim()}
        </Tab>
        <Tab id="retakes" className="tab">
          Retakes{retakes.length === 0 ? '' : ` ${retakes.length}`}
        </Tab>
        <Tab id="log" className="tab">
          Events
        </Tab>
      </TabList>
      {matrix === null ? null : (
        <TabPanel id="matrix" className="tab-panel">
          {matrix}
        </TabPanel>
      )}
      <TabPanel id="cell" className="tab-panel">
        {props.captures}
      </TabPanel>
      <TabPanel id="retakes" className="tab-panel">
        <RetakeList retakes={retakes} obstacle={props.obstacle} busy={props.busy} onRun={props.onRetakes} />
      </TabPanel>
      <TabPanel id="log" className="tab-panel">
        <EventLog />
      </TabPanel>
    </Tabs>
  )
})
