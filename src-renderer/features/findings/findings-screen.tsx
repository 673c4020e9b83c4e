import './findings.css'
import { useState } from 'react'
import { overRefreshFigure } from '#shared/figures/over-refresh.ts'
import { overviewGrid } from '#shared/figures/overview-grid.ts'
import { answer, type CampaignAnswer } from '#shared/findings/campaign/answer.ts'
import {
  DEFAULT_LIMITS,
  type FigureId,
  FIGURE_IDS,
  FIGURES,
  type Limits,
  type MeasuredPoint,
} from '#shared/findings/campaign/figures.ts'
import { limitsText, sentences } from '#shared/findings/campaign/sentences.ts'
import { describeError } from '../../client/errors.ts'
import { useHostState } from '../../client/host.tsx'
import { useCampaigns, useHostQuery } from '../../client/queries.ts'
import { parseRoute, useHash, goTo } from '../../navigation/route.ts'
import { OpenDemo } from '../../parts/open-demo.tsx'
import { EmptyState, StatusDot } from '../../ui/controls.tsx'
import { SelectInput } from '../../ui/fields.tsx'
import { Displays } from './displays.tsx'
import { FigureView } from '../../parts/figure-view.tsx'
import { LimitsForm } from './limits-form.tsx'
import { ReportActions } from './report-actions.tsx'

/** `#/findings/<campaign>`: the answer first, then the grid, then each figure over refresh. */
export function FindingsScreen() {
  const campaigns = useCampaigns()
  const recipeHash = useHostState((state) => state.recipeHash)
  const { rest } = parseRoute(useHash())
  const known = campaigns.data ?? []
  const chosen = known.find(({ id }) => String(id) === rest) ?? known.at(-1) ?? null
  const content = useHostQuery(
    ['matrix', 'campaign', chosen?.id ?? null, recipeHash],
    (client, signal) => client.campaigns.content({ campaignId: chosen?.id ?? 0, recipeHash }, { signal }),
    { enabled: chosen !== null },
  )
  const [limits, setLimits] = useState<Limits>(DEFAULT_LIMITS)
  const [weighting, setWeighting] = useState<'equal' | 'trapezoid'>('equal')
  if (campaigns.data === undefined) return <p className="hint">Reading the campaigns…</p>
  if (chosen === null)
    return (
      <EmptyState title="No campaign yet">
        Findings compare the settings of a display over its refresh rates. Plan a campaign, or look at invented ones.{' '}
        <OpenDemo />
      </EmptyState>
    )
  const points = content.data?.points ?? []
  const found = answer(points, limits, weighting)
  return (
    <div className="sided findings">
      <aside className="sided-choices">
        <SelectInput
          label="Campaign"
          value={String(chosen.id)}
          choices={known.map(({ id, name, display }) => ({ id: String(id), label: name, note: display }))}
          onChange={(id) => goTo(`#/findings/${id}`)}
        />
        {chosen.origin === 'simulated' ? <StatusDot tone="warn">Invented display, simulated rig</StatusDot> : null}
        <LimitsForm limits={limits} onChange={setLimits} weighting={weighting} onWeighting={setWeighting} />
        <ReportActions campaignId={chosen.id} limits={limits} weighting={weighting} isDisabled={points.length === 0} />
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
          <Found points={points} found={found} limits={limits} />
        )}
        <LeftOut leftOut={content.data?.leftOut ?? []} />
        <Displays limits={limits} weighting={weighting} />
      </div>
    </div>
  )
}

const SHOWN: readonly FigureId[] = [
  'duration_mean',
  'overshoot_mean',
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

function Found({ points, found, limits }: { points: readonly MeasuredPoint[]; found: CampaignAnswer; limits: Limits }) {
  const [gridOf, setGridOf] = useState<FigureId>('duration_mean')
  const [first, ...others] = sentences(found, limits)
  const rates = new Set(points.map(({ refreshHz }) => refreshHz)).size
  const drawn = SHOWN.filter((id) => points.filter(({ figures }) => figures[id] !== null).length > 1)
  return (
    <>
      <div className="found-lead" data-few={rates <= MOST_BESIDE}>
        <section aria-label="Answer" className="found-answer">
          <p className="found-first">{first?.text}</p>
          <ul>
            {others.map(({ text, sweepIds }) => (
              <li key={text}>
                {text}{' '}
                <a href={`#/bench?sweep=${sweepIds[0] ?? ''}`} className="found-link">
                  {sweepIds.length === 1 ? 'Sweep' : `${sweepIds.length} sweeps`}
                </a>
              </li>
            ))}
          </ul>
          <p className="hint">
            Usable means {limitsText(limits)}, with the whole 95 % interval inside. Only measured rates count.
          </p>
        </section>
        <section aria-label="Settings and refresh rates">
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
            draw={(host) => overviewGrid(host, gridOf, found.ranges)}
            caption={`${FIGURES[gridOf].label} with U95. Strong frame: usable. ✕: not usable. ?: the limit lies inside the uncertainty.`}
          />
        </section>
      </div>
      {drawn.length === 0 ? null : (
        <section aria-label="Figures over refresh">
          <h2>Over refresh, with U95</h2>
          <p className="hint">Lines guide the eye; nothing is claimed between measured rates.</p>
          <div className="found-figures">
            {drawn.map((id) => (
              <FigureView
                key={id}
                draw={(host) => overRefreshFigure(host, id, points, limits)}
                caption={`${FIGURES[id].label} over refresh with U95.`}
              />
            ))}
          </div>
        </section>
      )}
    </>
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
