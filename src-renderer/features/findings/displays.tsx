import { useMemo, useState } from 'react'
import { rankingFigure } from '#shared/figures/ranking.ts'
import { compareAlike, rankingSentence, type Comparison } from '#shared/findings/campaign/displays.ts'
import { displaysIn, type LibraryArchive } from '#shared/findings/campaign/library.ts'
import type { Ranking } from '#shared/findings/campaign/ranks.ts'
import type { FigureData } from '#shared/figures/point-data.ts'
import { u95Of } from '#shared/findings/campaign/estimate.ts'
import type { FigureHost } from '#shared/figures/svg.ts'
import { type FigureId, FIGURE_IDS, FIGURES, type Judgement } from '#shared/findings/campaign/figures.ts'
import { limitsText } from '#shared/findings/campaign/sentences.ts'
import { describeError } from '../../client/errors.ts'
import { useHostState } from '../../client/host.tsx'
import { useHostQuery } from '../../client/queries.ts'
import { FieldRow, SelectInput } from '../../ui/fields.tsx'
import { hertz, unbroken } from '../../ui/format.ts'
import { useKept } from '../../ui/use-kept.ts'
import { useSettled } from '../../ui/use-settled.ts'
import { FigureView } from '../../parts/figure-view.tsx'
import { LibraryList } from './library-list.tsx'
import { RecordsCompared } from './record-figures.tsx'

const NONE: readonly LibraryArchive[] = []
/** So long a limit has rested before other displays are judged by it, ms. */
const REST_MS = 150
/** Overdrive can complete more than the step in its first frame, which is no better: it ranks nothing. */
const RANKED_BY = FIGURE_IDS.filter((id) => id !== 'first_frame_mean')

/** The displays of this archive and of those added to it, side by side. */
export function Displays({ judgement: now }: { readonly judgement: Judgement }) {
  // Other displays are judged again once a limit has come to rest, not in each frame of its dragging.
  const judgement = useSettled(now, REST_MS)
  const recipeHash = useHostState((state) => state.recipeHash)
  const asked = useHostQuery(
    ['library', recipeHash],
    (client, signal) => client.library.list({ recipeHash }, { signal }),
    { keep: true },
  )
  const [aside, setAside] = useKept<readonly string[]>('displays-set-aside', [])
  const archives = asked.data?.archives ?? NONE
  const all = useMemo(() => displaysIn(archives), [archives])
  const compared = useMemo(() => all.filter(({ key }) => !aside.includes(key)).map(({ data }) => data), [all, aside])
  return (
    <section aria-label="Displays compared" id="displays-compared">
      <h2>Displays compared</h2>
      {compared.length < 2 ? (
        <p>
          {asked.data === undefined
            ? 'Reading the archives…'
            : 'Two displays measured alike can be ranked. Add the archive of another one below.'}
        </p>
      ) : (
        <Ranked data={compared} judgement={judgement} />
      )}
      <RecordsCompared displays={compared} />
      {asked.error === null ? null : <p role="alert">{describeError(asked.error).message}</p>}
      {asked.data === undefined ? null : (
        <LibraryList
          library={asked.data}
          displays={all}
          recipeHash={recipeHash}
          aside={aside}
          onAside={(key, isAside) => setAside(isAside ? [...aside, key] : aside.filter((one) => one !== key))}
        />
      )}
    </section>
  )
}

function Ranked({
  data,
  judgement,
}: {
  readonly data: Parameters<typeof compareAlike>[0]
  readonly judgement: Judgement
}) {
  const [figure, setFigure] = useState<FigureId>('duration_mean')
  const [chosen, setChosen] = useState<string>('whole-range')
  const wanted = chosen === 'whole-range' ? null : Number(chosen)
  const asked = useMemo(() => compareAlike(data, { judgement, figure, at: wanted }), [data, judgement, figure, wanted])
  const at = wanted !== null && asked.rates.includes(wanted) ? wanted : null
  const { displays, leftOut, rates, found } = useMemo(
    () => (at === wanted ? asked : compareAlike(data, { judgement, figure, at })),
    [asked, data, judgement, figure, wanted, at],
  )
  const bases = [
    { id: 'whole-range', label: 'Its setting for the whole range, mean over shared rates' },
    ...rates.map((hz) => ({ id: String(hz), label: `Its fastest usable setting at ${hertz(hz)} Hz` })),
  ]
  // Drawn again when who stands with what changes, not with every step of a limit.
  const drawn = JSON.stringify([figure, found.entries, found.ranking.ranked])
  const draw = useMemo(() => {
    const [id, entries, ranked] = JSON.parse(drawn) as [FigureId, Comparison['entries'], Ranking['ranked']]
    return (host: FigureHost) => rankingFigure(host, { id, ...FIGURES[id] }, entries, { ranked })
  }, [drawn])
  const simulated = displays.some(({ invented }) => invented)
  return (
    <>
      <FieldRow>
        <SelectInput
          label="Figure"
          value={figure}
          choices={RANKED_BY.map((id) => ({ id, label: FIGURES[id].label }))}
          onChange={setFigure}
        />
        <SelectInput
          label="Setting of each display"
          value={at === null ? 'whole-range' : String(at)}
          choices={bases}
          onChange={setChosen}
        />
      </FieldRow>
      {displays.length < 2 || found.entries.length === 0 ? (
        <p>
          {displays.length < 2
            ? 'Fewer than two displays were measured alike.'
            : rates.length === 0
              ? 'These displays share no refresh rate.'
              : `${rankingSentence(found)} Relax a limit, or choose one refresh rate.`}
        </p>
      ) : (
        <>
          <p>{unbroken(rankingSentence(found))}</p>
          <FigureView
            draw={draw}
            file={{ name: `ranking-${figure.replaceAll('_', '-')}`, data: rankingData(found) }}
            caption={`${FIGURES[figure].label} with U95, best first: ${found.entries.map(({ name, setting }) => `${name} with ${setting}`).join(', ')}.${simulated ? ' All of them are simulated.' : ''} Displays that the measurements cannot tell apart share ranks.`}
          />
          <p className="hint">
            Usable means {limitsText(judgement.limits)}, for every display. Rates all of them share:{' '}
            {rates.map(hertz).join(', ')} Hz.
          </p>
        </>
      )}
      {[...leftOut, ...found.without].map(({ name, reason }) => (
        <p key={name} className="hint">
          {name} is left out. {reason}
        </p>
      ))}
    </>
  )
}

const rankingData = ({ entries, ranking }: Comparison): FigureData => ({
  columns: ['display', 'simulated', 'setting', 'value', 'u95', 'best_rank', 'worst_rank'],
  rows: entries.map(({ name, invented, setting, estimate }, i) => {
    const { best, worst } = ranking.ranked[i] ?? { best: null, worst: null }
    return [name, invented ? 1 : 0, setting, estimate.value, u95Of(estimate), best, worst]
  }),
})
