import { useMemo, useState } from 'react'
import { rankingFigure } from '#shared/figures/ranking.ts'
import { answer } from '#shared/findings/campaign/answer.ts'
import {
  alike,
  commonRates,
  compareDisplays,
  rankingSentence,
  type Basis,
  type Comparison,
  type DisplayData,
} from '#shared/findings/campaign/displays.ts'
import type { Ranking } from '#shared/findings/campaign/ranks.ts'
import type { FigureData } from '#shared/figures/point-data.ts'
import { u95Of } from '#shared/findings/campaign/estimate.ts'
import type { FigureHost } from '#shared/figures/svg.ts'
import { type FigureId, FIGURE_IDS, FIGURES, type Judgement } from '#shared/findings/campaign/figures.ts'
import { useHostState } from '../../client/host.tsx'
import { useHostQuery } from '../../client/queries.ts'
import { FieldRow, SelectInput } from '../../ui/fields.tsx'
import { hertz } from '../../ui/format.ts'
import { FigureView } from '../../parts/figure-view.tsx'
import { RecordsCompared } from './record-figures.tsx'

const NONE: readonly DisplayData[] = []

/** The displays of this archive side by side; nothing is shown while there is only one. */
export function Displays({ judgement }: { readonly judgement: Judgement }) {
  const { limits, weighting } = judgement
  const recipeHash = useHostState((state) => state.recipeHash)
  const data = useHostQuery(['matrix', 'displays', recipeHash], (client, signal) =>
    client.campaigns.displays({ recipeHash }, { signal }),
  )
  const [figure, setFigure] = useState<FigureId>('duration_mean')
  const [chosen, setChosen] = useState<string>('whole-range')
  const all = data.data ?? NONE
  const like = useMemo(() => alike(all), [all])
  const displays = useMemo(
    () => like.displays.map((one) => ({ ...one, answer: answer(one.points, limits, weighting) })),
    [like, limits, weighting],
  )
  const { leftOut } = like
  const rates = commonRates(displays)
  const bases = [
    { id: 'whole-range', label: 'Its setting for the whole range, mean over shared rates' },
    ...rates.map((hz) => ({ id: String(hz), label: `Its fastest usable setting at ${hertz(hz)} Hz` })),
  ]
  const picked = bases.some(({ id }) => id === chosen) ? chosen : 'whole-range'
  const found = useMemo(() => {
    const basis: Basis =
      picked === 'whole-range'
        ? { kind: 'whole-range', weighting }
        : { kind: 'fastest-usable', refreshHz: Number(picked) }
    return compareDisplays(displays, figure, basis)
  }, [displays, figure, picked, weighting])
  // Drawn again when who stands with what changes, not with every step of a limit.
  const drawn = JSON.stringify([figure, found.entries, found.ranking.ranked])
  const draw = useMemo(() => {
    const [id, entries, ranked] = JSON.parse(drawn) as [FigureId, Comparison['entries'], Ranking['ranked']]
    return (host: FigureHost) => rankingFigure(host, { id, ...FIGURES[id] }, entries, { ranked })
  }, [drawn])
  if (all.length < 2) return null
  return (
    <section aria-label="Displays compared">
      <h2>Displays compared</h2>
      <FieldRow>
        <SelectInput
          label="Figure"
          value={figure}
          choices={FIGURE_IDS.map((id) => ({ id, label: FIGURES[id].label }))}
          onChange={setFigure}
        />
        <SelectInput label="Each display stands with" value={picked} choices={bases} onChange={setChosen} />
      </FieldRow>
      {displays.length < 2 || found.entries.length === 0 ? (
        <p>
          {displays.length < 2
            ? 'Fewer than two displays were measured alike.'
            : 'Under these limits no display has a setting to stand with. Loosen a limit, or choose one refresh rate.'}
        </p>
      ) : (
        <>
          <p>{rankingSentence(found)}</p>
          <FigureView
            draw={draw}
            file={{ name: `ranking-${figure.replaceAll('_', '-')}`, data: rankingData(found) }}
            caption={`${FIGURES[figure].label} with U95, best first: ${found.entries.map(({ name, setting }) => `${name} with ${setting}`).join(', ')}. Displays whose difference the measurements do not carry share ranks.`}
          />
        </>
      )}
      {[...leftOut, ...found.without].map(({ name, reason }) => (
        <p key={name} className="hint">
          {name}: {reason}
        </p>
      ))}
      <RecordsCompared displays={all} />
    </section>
  )
}

const rankingData = ({ entries, ranking }: Comparison): FigureData => ({
  columns: ['display', 'setting', 'value', 'u95', 'best_rank', 'worst_rank'],
  rows: entries.map(({ name, setting, estimate }, i) => {
    const { best, worst } = ranking.ranked[i] ?? { best: null, worst: null }
    return [name, setting, estimate.value, u95Of(estimate), best, worst]
  }),
})
