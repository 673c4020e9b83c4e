import { useMemo } from 'react'
import type { Overlay } from '#shared/domain/desk.ts'
import { LinePlot } from '../../plot/line-plot.tsx'
import { columnTimes } from '../../plot/trace-scene.ts'
import type { Span } from '../../plot/view-moves.ts'
import { plural, significant } from '../../ui/format.ts'

export interface ResidualStripProps {
  readonly overlay: Overlay | null
  readonly problem: string
  readonly originS: number
  /** In view on the plot above, ms. */
  readonly span: Span | null
}

const inMillivolts = (volts: Float32Array) => volts.map((value) => value * 1000)

/** The capture less the mean of its repeats, under the plot and with the same times. */
export function ResidualStrip({ overlay, problem, originS, span }: ResidualStripProps) {
  const residual = overlay?.residual ?? null
  const data = useMemo(
    () =>
      residual === null
        ? null
        : {
            x: columnTimes(residual, originS),
            low: inMillivolts(residual.min),
            high: inMillivolts(residual.max),
          },
    [residual, originS],
  )
  const largest =
    data === null
      ? 0
      : Math.max(...[data.low, data.high].map((list) => list.reduce((a, b) => Math.max(a, Math.abs(b)), 0)))
  return (
    <div className="strip">
      <p className="strip-head">
        <strong>Residual, mV</strong>
        <span className="minor">
          {overlay === null
            ? problem
            : residual === null
              ? overlay.note
              : `this capture minus the mean of ${plural(overlay.counted, 'repeat')}, at most ${significant(largest, 3)} mV in view`}
        </span>
      </p>
      {data === null ? (
        <p className="strip-empty">{overlay === null && problem === '' ? 'Reading the repeats…' : 'No residual.'}</p>
      ) : (
        <LinePlot
          {...data}
          span={span}
          aboutZero
          underTrace
          description={`Residual to the mean of the repeats, at most ${significant(largest, 3)} mV`}
        />
      )}
    </div>
  )
}
