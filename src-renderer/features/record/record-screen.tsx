import './record.css'
import { Fragment, useState, type ReactNode } from 'react'
import type { Campaign } from '#shared/domain/capture.ts'
import { RECORD_KINDS, type RecordKindId } from '#shared/domain/record-kinds.ts'
import { listed } from '#shared/domain/quantity-text.ts'
import type { Reading } from '#shared/domain/reading.ts'
import { TARGET_IDS, TARGETS } from '#shared/colour/targets.ts'
import { recordFigures, type RecordFigureView } from '#shared/figures/record.ts'
import { figureText, groupOf, type RecordQuantity } from '#shared/record/quantity.ts'
import {
  DEFAULT_CHOICE,
  displayRecord,
  isOfRecord,
  newestLadder,
  quantitiesOf,
  type RecordChoice,
} from '#shared/record/record.ts'
import { useHostState } from '../../client/host.tsx'
import { useCampaigns, useHostQuery, useSweeps } from '../../client/queries.ts'
import { parseRoute, useHash } from '../../navigation/route.ts'
import { CampaignChoice } from '../../parts/campaign-choice.tsx'
import { FigureView } from '../../parts/figure-view.tsx'
import { OpenDemo } from '../../parts/open-demo.tsx'
import { Action, EmptyState, Segmented, StatusDot } from '../../ui/controls.tsx'
import { SelectInput } from '../../ui/fields.tsx'
import { EntryForm } from './entry-form.tsx'
import { GuideScreen } from './guide/guide-screen.tsx'
import { GuideStart } from './guide/guide-start.tsx'
import { MeasureLatency } from './latency-run.tsx'
import { ReadingList } from './reading-list.tsx'

const WHITES = [
  { id: 'target', label: 'Target’s white' },
  { id: 'display', label: 'Own white' },
] as const

/** `#/record/<campaign>`: every quantity of a display beyond its transitions, its state, and what to do next. */
export function RecordScreen() {
  const campaigns = useCampaigns()
  const guided = useHostState((state) => state.guided)
  const { rest } = parseRoute(useHash())
  const known = campaigns.data ?? []
  const chosen = known.find(({ id }) => String(id) === rest) ?? known.at(-1) ?? null
  const [choice, setChoice] = useState<RecordChoice>(DEFAULT_CHOICE)
  const readings = useHostQuery(
    ['readings', chosen?.id ?? null],
    (client, signal) => client.readings.list({ campaignId: chosen?.id ?? 0, includeHidden: true }, { signal }),
    { enabled: chosen !== null },
  )
  if (guided !== null) return <GuideScreen progress={guided} />
  if (campaigns.data === undefined) return <p className="hint">Reading the campaigns…</p>
  if (chosen === null)
    return (
      <EmptyState title="No campaign yet">
        A record belongs to a campaign, which is one display. Begin one on the <a href="#/bench">Bench</a>, or look at
        invented ones. <OpenDemo />
      </EmptyState>
    )
  return (
    <div className="sided record">
      <aside className="sided-choices" aria-label="Which display">
        <CampaignChoice known={known} chosen={chosen} screen="record" />
        <SelectInput
          label="Colours against"
          value={choice.target}
          choices={TARGET_IDS.map((id) => ({ id, label: TARGETS[id].label, note: TARGETS[id].source }))}
          onChange={(target) => setChoice({ ...choice, target })}
        />
        <Segmented
          label="White that differences count against"
          value={choice.white}
          choices={WHITES}
          onChange={(white) => setChoice({ ...choice, white })}
        />
        <p className="hint">
          With the display’s own white, ΔE 2000 says how colours look to an eye adapted to it. ΔE ITP never adapts.
        </p>
      </aside>
      {readings.data === undefined ? (
        <p className="hint">Reading the record…</p>
      ) : (
        <Quantities key={chosen.id} campaign={chosen} readings={readings.data} choice={choice} />
      )}
    </div>
  )
}

const STATES = {
  measured: { tone: 'good', text: 'Complete' },
  partly: { tone: 'warn', text: 'Incomplete' },
  missing: { tone: 'idle', text: 'Not measured' },
} as const

interface QuantitiesProps {
  readonly campaign: Campaign
  readonly readings: readonly Reading[]
  readonly choice: RecordChoice
}

function Quantities({ campaign, readings, choice }: QuantitiesProps) {
  const sweeps = useSweeps(campaign.id)
  const [adding, setAdding] = useState<RecordKindId | null>(null)
  const own = readings.filter(isOfRecord)
  const record = displayRecord(
    own.filter(({ hidden }) => !hidden),
    newestLadder(sweeps.data ?? []),
    choice,
  )
  const quantities = quantitiesOf(record)
  const figures = recordFigures(record)
  const open = quantities.filter(({ state }) => state !== 'measured')
  return (
    <div className="sided-answer">
      <section aria-label="State of the record" className="record-state">
        <p className="record-lead">
          {open.length === 0
            ? 'The record is complete.'
            : `${quantities.length - open.length} of ${quantities.length} quantities are complete. Still open: ${listed(open.map(({ label }) => label.toLowerCase()))}.`}
        </p>
      </section>
      {quantities.map((quantity) => (
        <Quantity
          key={quantity.id}
          quantity={quantity}
          figures={figures.filter((figure) => figure.quantity === quantity.id)}
          onAdd={setAdding}
        >
          {quantity.id === 'latency' ? <MeasureLatency campaignId={campaign.id} /> : null}
          <GuideStart campaignId={campaign.id} quantity={quantity.id} />
        </Quantity>
      ))}
      <ReadingList readings={own} />
      {adding === null ? null : <EntryForm campaignId={campaign.id} kind={adding} onClose={() => setAdding(null)} />}
    </div>
  )
}

interface QuantityProps {
  readonly quantity: RecordQuantity
  readonly figures: readonly RecordFigureView[]
  readonly onAdd: (kind: RecordKindId) => void
  /** How it is measured here. */
  readonly children: ReactNode
}

function Quantity({ quantity, figures, onAdd, children }: QuantityProps) {
  const { label, state, figures: values, missing, kinds } = quantity
  const { tone, text } = STATES[state]
  return (
    <section className="record-quantity" aria-label={label}>
      <header className="record-head">
        <h2>{label}</h2>
        <StatusDot tone={tone}>{text}</StatusDot>
        <div className="record-actions">
          {kinds.map((kind, i) => (
            <Action
              key={kind}
              size="small"
              tone={state !== 'measured' && i === 0 ? 'main' : 'plain'}
              onPress={() => onAdd(kind)}
            >
              {`Add ${RECORD_KINDS[kind].label.toLowerCase()}…`}
            </Action>
          ))}
          {children}
        </div>
      </header>
      {missing.length === 0 ? null : (
        <ul className="record-missing" aria-label={`Still needed for ${label.toLowerCase()}`}>
          {missing.map((what) => (
            <li key={what}>{what}</li>
          ))}
        </ul>
      )}
      {values.length === 0 ? null : (
        <table className="record-table" aria-label={`Figures of ${label.toLowerCase()}`}>
          <colgroup>
            <col className="record-name" />
            <col className="record-value" />
            <col />
          </colgroup>
          <tbody>
            {values.map((figure, i) => {
              const [group, name] = groupOf(figure.label)
              return (
                <Fragment key={figure.label}>
                  {group === '' || group === groupOf(values[i - 1]?.label ?? '')[0] ? null : (
                    <tr className="record-group">
                      <th colSpan={3} scope="rowgroup">
                        {group}
                      </th>
                    </tr>
                  )}
                  <tr>
                    <th scope="row">{name}</th>
                    <td className="digits record-value">{figureText(figure)}</td>
                    <td className="minor">{figure.note}</td>
                  </tr>
                </Fragment>
              )
            })}
          </tbody>
        </table>
      )}
      <div className="record-figures">
        {figures.map(({ id, draw, caption }) => (
          <FigureView key={id} draw={draw} caption={caption} />
        ))}
      </div>
    </section>
  )
}
