import { memo, useCallback, useMemo, useState } from 'react'
import { overRefreshDomain, overRefreshFigure } from '#shared/figures/over-refresh.ts'
import { pointData } from '#shared/figures/point-data.ts'
import type { FigureHost } from '#shared/figures/svg.ts'
import { type FigureId, FIGURES, type MeasuredPoint } from '#shared/findings/campaign/figures.ts'
import type { Limit } from '#shared/findings/campaign/limits.ts'
import { FigureView } from '../../parts/figure-view.tsx'
import { LimitLine } from './limit-line.tsx'

/**
 * One figure over refresh. Its limit is a line over the picture: while it moves within the axis nothing is drawn again
 * but the line, and the other figures are left alone.
 */
export const OverRefresh = memo(function OverRefresh(props: {
  readonly id: FigureId
  readonly points: readonly MeasuredPoint[]
  readonly limit: Limit | null
  readonly onLimit: (id: FigureId, limit: Limit) => void
}) {
  const { id, points, limit, onLimit } = props
  const needed = useMemo(() => overRefreshDomain(id, points, limit?.value ?? null), [id, points, limit?.value])
  const [held, setHeld] = useState<readonly [number, number] | null>(null)
  const [low, high] = held ?? needed
  const draw = useCallback(
    (host: FigureHost) => overRefreshFigure(host, id, points, {}, [low, high]),
    [id, points, low, high],
  )
  return (
    <FigureView
      draw={draw}
      caption={`${FIGURES[id].label} over refresh with U95.`}
      file={{ name: `over-refresh-${id.replaceAll('_', '-')}`, data: pointData(points, id) }}
    >
      {limit === null ? null : (
        <LimitLine
          id={id}
          limit={limit}
          domain={[low, high]}
          onMove={(value) => onLimit(id, { ...limit, value })}
          onHold={(isHeld) => setHeld(isHeld ? [low, high] : null)}
        />
      )}
    </FigureView>
  )
})
