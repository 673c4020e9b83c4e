import { useCallback, useMemo, useState } from 'react'
import { hertz } from '#shared/domain/quantity-text.ts'
import { movingEdgeCaption, movingEdgeData, movingEdgeFigure } from '#shared/figures/moving-edge.ts'
import type { FigureHost } from '#shared/figures/svg.ts'
import type { MeasuredPoint } from '#shared/findings/campaign/figures.ts'
import { describeError } from '../../client/errors.ts'
import { useHostQuery } from '../../client/queries.ts'
import { FigureView } from '../../parts/figure-view.tsx'
import { SelectInput } from '../../ui/fields.tsx'
import { NumberSlider } from '../../ui/number-slider.tsx'

const USUAL_PX_PER_S = 960
const SPEEDS = { min: 120, max: 3840, step: 60 } as const

/** What a tracking eye sees of an edge, settings side by side, at a rate, levels and speed of choice. */
export function MovingEdges(props: {
  readonly campaignId: number
  readonly recipeHash: string
  readonly points: readonly MeasuredPoint[]
}) {
  const { campaignId, recipeHash, points } = props
  const rates = useMemo(() => [...new Set(points.map(({ refreshHz }) => refreshHz))].sort((a, b) => a - b), [points])
  const [chosenHz, setHz] = useState<number | null>(null)
  const [chosen, setLevels] = useState<readonly [number, number] | null>(null)
  const [pixelsPerS, setSpeed] = useState(USUAL_PX_PER_S)
  const refreshHz = chosenHz !== null && rates.includes(chosenHz) ? chosenHz : (rates[0] ?? 0)
  const asked = useHostQuery(
    ['matrix', 'edges', campaignId, recipeHash, refreshHz, chosen],
    (client, signal) =>
      client.campaigns.edges(
        { campaignId, recipeHash, refreshHz, ...(chosen === null ? {} : { levels: [chosen[0], chosen[1]] }) },
        { signal },
      ),
    { enabled: refreshHz > 0, keep: true },
  )
  const edges = asked.data ?? null
  const draw = useCallback(
    (host: FigureHost) => {
      const description = 'Computed moving edges of all settings.'
      return movingEdgeFigure(
        host,
        { id: 'moving-edges', description },
        edges?.pictures ?? [],
        pixelsPerS,
        edges?.peak ?? 1,
      )
    },
    [edges, pixelsPerS],
  )
  if (asked.error !== null) return <p className="hint">{describeError(asked.error).message}</p>
  if (edges === null) return null
  const { from, to, levels, pictures } = edges
  const choices = (other: number) =>
    levels.filter((level) => level !== other).map((level) => ({ id: String(level), label: String(level) }))
  return (
    <section aria-label="Moving edges">
      <h2>A moving edge, as a tracking eye sees it</h2>
      <div className="edge-choices">
        <SelectInput
          label="Refresh"
          unit="Hz"
          value={String(refreshHz)}
          choices={rates.map((hz) => ({ id: String(hz), label: hertz(hz) }))}
          onChange={(hz) => setHz(Number(hz))}
        />
        <SelectInput
          label="From level"
          value={String(from)}
          choices={choices(to)}
          onChange={(level) => setLevels([Number(level), to])}
        />
        <SelectInput
          label="To level"
          value={String(to)}
          choices={choices(from)}
          onChange={(level) => setLevels([from, Number(level)])}
        />
        <NumberSlider
          label="Speed"
          hint=""
          unit="px/s"
          value={pixelsPerS}
          min={SPEEDS.min}
          max={SPEEDS.max}
          scale={SPEEDS}
          whole
          onChange={setSpeed}
        />
      </div>
      {pictures.length === 0 ? (
        <p className="hint">
          No record of {from} → {to} at {hertz(refreshHz)} Hz keeps its place in the frame: only captures triggered by
          the light edge do.
        </p>
      ) : (
        <FigureView
          draw={draw}
          caption={movingEdgeCaption(edges, pixelsPerS)}
          file={{ name: `moving-edge-${hertz(refreshHz).replace('.', '-')}`, data: movingEdgeData(pictures) }}
        />
      )}
    </section>
  )
}
