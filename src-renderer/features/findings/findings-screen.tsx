import './findings.css'
import { Fragment, type KeyboardEvent, memo, useCallback, useMemo, useState } from 'react'
import type { Campaign } from '#shared/domain/capture.ts'
import { overviewGrid } from '#shared/figures/overview-grid.ts'
import { pointData } from '#shared/figures/point-data.ts'
import type { FigureHost } from '#shared/figures/svg.ts'
import { answer, type CampaignAnswer } from '#shared/findings/campaign/answer.ts'
import {
  type FigureId,
  FIGURE_IDS,
  FIGURES,
  type Limits,
  type MeasuredPoint,
  USUAL_JUDGEMENT,
} from '#shared/findings/campaign/figures.ts'
import type { Limit } from '#shared/findings/campaign/limits.ts'
import { limitsText, sentences } from '#shared/findings/campaign/sentences.ts'
import { describeError } from '../../client/errors.ts'
import { useHostState } from '../../client/host.tsx'
import { useCampaigns, useHostQuery } from '../../client/queries.ts'
import { parseRoute, useHash } from '../../navigation/route.ts'
import { OpenDemo } from '../../parts/open-demo.tsx'
import { Action, EmptyState } from '../../ui/controls.tsx'
import { SelectInput } from '../../ui/fields.tsx'
import { unbroken } from '../../ui/format.ts'
import { useStable } from '../../ui/use-stable.ts'
import { Displays } from './displays.tsx'
import { CampaignChoice } from '../../parts/campaign-choice.tsx'
import { FigureView } from '../../parts/figure-view.tsx'
import { withLimit } from './limits.ts'
import { LimitsForm } from './limits-form.tsx'
import { MovingEdges } from './moving-edges.tsx'
import { OverRefresh } from './over-refresh.tsx'
import { OnRecord } from './record-figures.tsx'
import { ReportActions } from './report-actions.tsx'
import { StrobePlaces } from './strobe-places.tsx'
import { useJudgement } from './use-judgement.ts'

/** `#/findings/<campaign>`: the answer first, then the grid, then each figure over refresh. */
export function FindingsScreen() {
  const campaigns = useCampaigns()
  const { rest } = parseRoute(useHash())
  if (campaigns.data === undefined) return <p className="hint">Reading the campaigns…</p>
  const known = campaigns.data
  const chosen = known.find(({ id }) => String(id) === rest) ?? known.at(-1)
  if (chosen === undefined)
    return (
      <div className="findings findings-empty">
        <EmptyState title="No campaign yet">
          Findings compare the settings of a display over its refresh rates. <a href="#/campaign">Plan a campaign</a>,
          or look at invented ones. <OpenDemo />
        </EmptyState>
        <Displays judgement={USUAL_JUDGEMENT} />
      </div>
    )
  return <Judged key={chosen.id} campaign={chosen} known={known} />
}

const NO_POINTS: readonly MeasuredPoint[] = []

function Judged({ campaign, known }: { readonly campaign: Campaign; readonly known: readonly Campaign[] }) {
  const recipeHash = useHostState((state) => state.recipeHash)
  const content = useHostQuery(['matrix', 'campaign', campaign.id, recipeHash], (client, signal) =>
    client.campaigns.content({ campaignId: campaign.id, recipeHash }, { signal }),
  )
  const editor = useJudgement(campaign.id)
  const points = content.data?.points ?? NO_POINTS
  const judgement = editor?.judgement ?? USUAL_JUDGEMENT
  const { limits, weighting } = judgement
  const found = useMemo(() => answer(points, judgement.limits, judgement.weighting), [points, judgement])
  const onLimit = useStable((id: FigureId, limit: Limit | null) =>
    editor?.edit(id, { limits: withLimit(limits, id, limit), weighting }),
  )
  const onKeyDown = (event: KeyboardEvent<HTMLElement>) => {
    if (!(event.ctrlKey || event.metaKey) || event.altKey) return
    // In a field the keys take back what was typed.
    if (event.target instanceof HTMLInputElement && !['range', 'checkbox'].includes(event.target.type)) return
    const key = event.key.toLowerCase()
    if (key === 'z' && !event.shiftKey) editor?.undo?.()
    else if (key === 'y' || key === 'z') editor?.redo?.()
    else return
    event.preventDefault()
  }
  return (
    <div className="sided findings" onKeyDown={onKeyDown}>
      <aside className="sided-choices">
        <CampaignChoice known={known} chosen={campaign} screen="findings" />
        <Action
          size="small"
          onPress={() => document.querySelector('#displays-compared')?.scrollIntoView({ block: 'start' })}
        >
          Displays compared
        </Action>
        {editor === null ? null : <LimitsForm editor={editor} onLimit={onLimit} />}
        <ReportActions
          campaignId={campaign.id}
          limits={limits}
          weighting={weighting}
          isDisabled={points.length === 0 || editor === null}
        />
      </aside>
      <div className="sided-answer">
        {content.error !== null ? (
          <EmptyState title="The campaign could not be read">{describeError(content.error).message}</EmptyState>
        ) : points.length === 0 ? (
          <EmptyState title="Nothing to compare yet">
            This campaign has no sweep with results under the recipe in use. Run one on the Bench, or measure its
            captures under this recipe on Recipes.
          </EmptyState>
        ) : (
          <Found points={points} found={found} limits={limits} onLimit={onLimit} />
        )}
        {points.length === 0 ? null : <MovingEdges campaignId={campaign.id} recipeHash={recipeHash} points={points} />}
        <StrobePlaces campaignId={campaign.id} strobe={content.data?.strobe ?? []} points={points} />
        <OnRecord campaignId={campaign.id} record={content.data?.record ?? []} />
        <LeftOut leftOut={content.data?.leftOut ?? []} />
        <Displays judgement={judgement} />
      </div>
    </div>
  )
}

const SHOWN: readonly FigureId[] = [
  'duration_mean',
  'overshoot_mean',
  'overshoot_worst',
  'in_window_share',
  'dark_mean',
  'rise_mean',
  'fall_mean',
  'first_frame_mean',
  'blur_edge_mean',
  'crosstalk_mean',
]

/** A grid of so many refresh rates has room beside the answer. */
const MOST_BESIDE = 3

function Found(props: {
  readonly points: readonly MeasuredPoint[]
  readonly found: CampaignAnswer
  readonly limits: Limits
  readonly onLimit: (id: FigureId, limit: Limit) => void
}) {
  const { points, found, limits, onLimit } = props
  // Drawn again when a verdict changes, not with every step of a limit.
  const verdicts = found.ranges.flatMap((range) => range.points.map(({ verdict }) => verdict)).join(' ')
  const [grid, setGrid] = useState({ verdicts, points, ranges: found.ranges })
  if (grid.verdicts !== verdicts || grid.points !== points) setGrid({ verdicts, points, ranges: found.ranges })
  const [first, ...others] = sentences(found, limits)
  const rates = new Set(points.map(({ refreshHz }) => refreshHz)).size
  const drawn = SHOWN.filter((id) => points.filter(({ figures }) => figures[id] !== null).length > 1)
  return (
    <>
      <div className="found-lead" data-few={rates <= MOST_BESIDE}>
        <section aria-label="Answer" className="found-answer">
          <p className="found-first">{unbroken(first?.text ?? '')}</p>
          <ul>
            {others.map(({ text, list, sweepIds }) => (
              <li key={text}>
                {list === undefined ? unbroken(text) : `${list.lead}:`} <Sweeps ids={sweepIds} />
                {list === undefined ? null : (
                  <ul className="found-differences">
                    {list.items.map((item) => (
                      <li key={item}>{unbroken(item)}</li>
                    ))}
                  </ul>
                )}
              </li>
            ))}
          </ul>
        </section>
        <section aria-label="Settings and refresh rates">
          <Overview points={grid.points} ranges={grid.ranges} />
          <p className="hint found-words">
            Usable means {limitsText(limits)}, with the whole 95 % interval inside. Only measured rates count. In
            window: settled, or arrived where the recipe says so, within the refresh period and the recipe’s tolerance.
            Dark steps: both levels at or under the recipe’s dark code.
          </p>
        </section>
      </div>
      {drawn.length === 0 ? null : (
        <section aria-label="Figures over refresh">
          <h2>Over refresh, with U95</h2>
          <p className="hint">
            Lines guide the eye; nothing is claimed between measured rates. A limit can be dragged.
          </p>
          <div className="found-figures">
            {drawn.map((id) => (
              <OverRefresh key={id} id={id} points={points} limit={limits[id] ?? null} onLimit={onLimit} />
            ))}
          </div>
        </section>
      )}
    </>
  )
}

const Overview = memo(function Overview(props: {
  readonly points: readonly MeasuredPoint[]
  readonly ranges: CampaignAnswer['ranges']
}) {
  const { points, ranges } = props
  const [gridOf, setGridOf] = useState<FigureId>('duration_mean')
  const drawGrid = useCallback((host: FigureHost) => overviewGrid(host, gridOf, ranges), [gridOf, ranges])
  return (
    <>
      <SelectInput
        label="Shown in the grid"
        value={gridOf}
        choices={FIGURE_IDS.filter((id) => points.some(({ figures }) => figures[id] !== null)).map((id) => ({
          id,
          label: FIGURES[id].label,
        }))}
        onChange={setGridOf}
      />
      <FigureView
        draw={drawGrid}
        file={{ name: `overview-${gridOf.replaceAll('_', '-')}`, data: pointData(points, gridOf) }}
        caption={`${FIGURES[gridOf].label} in ${FIGURES[gridOf].unit === 's' ? 'ms' : '%'}, with U95. Strong frame: usable. ✕: not usable. ?: the limit lies inside the uncertainty.`}
      />
    </>
  )
})

/** So many stay on one line. */
const FEW_SWEEPS = 6

/** The sweeps a sentence rests on, each a click away. */
function Sweeps({ ids }: { readonly ids: readonly number[] }) {
  return (
    <span className="found-link" data-few={ids.length <= FEW_SWEEPS}>
      {ids.length === 1 ? 'Sweep' : 'Sweeps'}{' '}
      {ids
        .toSorted((a, b) => a - b)
        .map((id, i) => (
          <Fragment key={id}>
            {i > 0 ? ', ' : ''}
            <a href={`#/bench?sweep=${id}`} aria-label={`Sweep ${id}`}>
              {id}
            </a>
          </Fragment>
        ))}
    </span>
  )
}

function LeftOut({ leftOut }: { leftOut: readonly { readonly sweepId: number; readonly reason: string }[] }) {
  if (leftOut.length === 0) return null
  return (
    <section aria-label="Left out" className="hint">
      <h2>Left out</h2>
      <ul>
        {leftOut.map(({ sweepId, reason }) => (
          <li key={sweepId}>
            Sweep {sweepId}: {reason}
          </li>
        ))}
      </ul>
    </section>
  )
}
