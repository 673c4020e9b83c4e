import { useState } from 'react'
import { rankingFigure } from '#shared/figures/ranking.ts'
import { answer } from '#shared/findings/campaign/answer.ts'
import { alike, commonRates, compareDisplays, rankingSentence, type Basis } from '#shared/findings/campaign/displays.ts'
import { type FigureId, FIGURE_IDS, FIGURES, type Limits } from '#shared/findings/campaign/figures.ts'
import type { Weighting } from '#shared/findings/campaign/over-refresh.ts'
import { useHostState } from '../../client/host.tsx'
import { useHostQuery } from '../../client/queries.ts'
import { FieldRow, SelectInput } from '../../ui/fields.tsx'
import { hertz } from '../../ui/format.ts'
import { FigureView } from '../../parts/figure-view.tsx'

/** The displays of this archive side by side; nothing is shown while there is only one. */
export function Displays({ limits, weighting }: { limits: Limits; weighting: Weighting }) {
  const recipeHash = useHostState((state) => state.recipeHash)
  const data = useHostQuery(['matrix', 'displays', recipeHash], (client, signal) =>
    client.campaigns.displays({ recipeHash }, { signal }),
  )
  const [figure, setFigure] = useState<FigureId>('duration_mean')
  const [chosen, setChosen] = useState<string>('whole-range')
  const all = data.data ?? []
  if (all.length < 2) return null
  const { displays: like, leftOut } = alike(all)
  const displays = like.map((one) => ({ ...one, answer: answer(one.points, limits, weighting) }))
  const rates = commonRates(displays)
  const bases = [
    { id: 'whole-range', label: 'Its setting for the whole range, mean over shared rates' },
    ...rates.map((hz) => ({ id: String(hz), label: `Its fastest usable setting at ${hertz(hz)} Hz` })),
  ]
  const picked = bases.some(({ id }) => id === chosen) ? chosen : 'whole-range'
  const basis: Basis =
    picked === 'whole-range'
      ? { kind: 'whole-range', weighting }
      : { kind: 'fastest-usable', refreshHz: Number(picked) }
  const found = compareDisplays(displays, figure, basis)
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
            draw={(host) => rankingFigure(host, figure, found.entries, found.ranking)}
            caption={`${FIGURES[figure].label} with U95, best first: ${found.entries.map(({ name, setting }) => `${name} with ${setting}`).join(', ')}. Displays whose difference the measurements do not carry share ranks.`}
          />
        </>
      )}
      {[...leftOut, ...found.without].map(({ name, reason }) => (
        <p key={name} className="hint">
          {name}: {reason}
        </p>
      ))}
    </section>
  )
}
