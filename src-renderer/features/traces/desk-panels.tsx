import { createContext, memo, use, type ReactNode, type RefObject } from 'react'
import { Tab, TabList, TabPanel, Tabs } from 'react-aria-components'
import type { MeasureId } from '#shared/domain/measures.ts'
import type { TraceScene } from '../../plot/trace-scene.ts'
import { Action } from '../../ui/controls.tsx'
import { useKept } from '../../ui/use-kept.ts'
import { useMedia } from '../../ui/use-media.ts'
import { EffectLine } from './effect-line.tsx'
import { FlagList, type FlagListHandle } from './flag-list.tsx'
import { HistoryList } from './history-list.tsx'
import { NumbersPanel } from './numbers-panel.tsx'
import { ReviewPanel, type ReviewPanelHandle } from './review-panel.tsx'
import type { Marks } from './use-marks.ts'
import type { ShownCapture } from './use-shown-capture.ts'

export type PanelId = 'flags' | 'review' | 'numbers' | 'history'

/** From this width on flags, review and numbers stand side by side. */
const WIDE = '(min-width: 1280px)'

export interface DeskPanelsProps {
  readonly panel: PanelId
  readonly onPanel: (panel: PanelId) => void
  readonly shown: ShownCapture
  readonly recipeHash: string
  readonly recipeName: string
  readonly measure: MeasureId
  readonly marks: Marks
  readonly originS: number
  readonly origin: TraceScene['origin']
  readonly recordS: number
  readonly shownFlag: number | null
  readonly onFlag: (index: number | null) => void
  readonly flags: RefObject<FlagListHandle | null>
  readonly review: RefObject<ReviewPanelHandle | null>
  readonly onCapture: (captureId: number) => void
  /** The capture is one of the doubtful ones; a decision on it leads to the next. */
  readonly queued: boolean
  readonly onDecided: () => void
}

const NAMES: Readonly<Record<PanelId, string>> = {
  flags: 'Flags',
  review: 'Review',
  numbers: 'Numbers',
  history: 'History',
}

/** What is doubted, what was decided and what it comes to: side by side where there is room, else in tabs. */
export const DeskPanels = memo(function DeskPanels({ flags, review, ...props }: DeskPanelsProps) {
  const { detail } = props.shown
  const wide = useMedia(WIDE)
  const bodies: Readonly<Record<PanelId, ReactNode>> = {
    flags: (
      <FlagList
        ref={flags}
        result={detail.result}
        sampleRateHz={detail.info.sampleRateHz}
        sweepId={detail.info.sweepId}
        shown={props.shownFlag}
        onShow={props.onFlag}
      />
    ),
    review: (
      <ReviewPanel
        ref={review}
        detail={detail}
        queued={props.queued}
        onDecided={props.onDecided}
        imported={props.shown.sweep?.origin === 'imported'}
        marks={{
          marks: props.marks,
          result: detail.result,
          originS: props.originS,
          origin: props.origin,
          recordS: props.recordS,
          sampleRateHz: detail.info.sampleRateHz,
        }}
      />
    ),
    numbers: (
      <NumbersPanel
        recipeName={props.recipeName}
        result={detail.result}
        own={detail.ownResult}
        preview={props.marks.preview}
      />
    ),
    history: <HistoryList captureId={detail.info.id} onCapture={props.onCapture} />,
  }
  const count = detail.result?.flags.length ?? 0
  const flagsName = count > 0 ? `Flags ${count}` : NAMES.flags
  const tabs = <DeskTabs wide={wide} flagsName={wide ? '' : flagsName} panel={props.panel} onPanel={props.onPanel} />
  return (
    <Bodies value={bodies}>
      <EffectLine info={detail.info} recipeHash={props.recipeHash} measure={props.measure} />
      {wide ? (
        <div className="desk-side">
          {(['flags', 'review'] as const).map((id) => (
            <section key={id} className={`pane desk-panel desk-panel-${id}`} aria-label={NAMES[id]}>
              <h3 className="desk-panel-name">{id === 'flags' ? flagsName : NAMES[id]}</h3>
              <div className="desk-panel-body">{bodies[id]}</div>
            </section>
          ))}
          {tabs}
        </div>
      ) : (
        tabs
      )}
    </Bodies>
  )
})

/** Another capture changes what is in the tabs, not the tabs themselves, which cost more than all the rest to draw. */
const Bodies = createContext<Readonly<Record<PanelId, ReactNode>> | null>(null)
const Body = ({ id }: { readonly id: PanelId }) => use(Bodies)?.[id]

interface DeskTabsProps {
  readonly wide: boolean
  readonly flagsName: string
  readonly panel: PanelId
  readonly onPanel: (panel: PanelId) => void
}

const DeskTabs = memo(function DeskTabs({ wide, flagsName, panel, onPanel }: DeskTabsProps) {
  const [folded, setFolded] = useKept('traces: panels folded', false)
  const tabs: readonly PanelId[] = wide ? ['numbers', 'history'] : ['flags', 'review', 'numbers', 'history']
  const isFolded = folded && !wide
  return (
    <Tabs
      className="pane tabs desk-panel desk-panel-tabs"
      data-folded={isFolded}
      selectedKey={tabs.includes(panel) ? panel : 'numbers'}
      onSelectionChange={(key) => {
        const chosen = tabs.find((id) => id === key)
        if (chosen === undefined) return
        setFolded(false)
        onPanel(chosen)
      }}
    >
      <div className="desk-panel-head">
        <TabList className="tab-list" aria-label="About this capture">
          {tabs.map((id) => (
            <Tab key={id} id={id} className="tab">
              {id === 'flags' ? flagsName : NAMES[id]}
            </Tab>
          ))}
        </TabList>
        {wide ? null : (
          <Action
            size="small"
            tone="quiet"
            aria-expanded={!isFolded}
            aria-label={isFolded ? 'Unfold the panel' : 'Fold the panel: more room for the plot'}
            onPress={() => setFolded(!isFolded)}
          >
            {isFolded ? '▴' : '▾'}
          </Action>
        )}
      </div>
      {tabs.map((id) => (
        <TabPanel key={id} id={id} className="tab-panel">
          <Body id={id} />
        </TabPanel>
      ))}
    </Tabs>
  )
})
