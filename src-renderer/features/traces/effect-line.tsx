import { useMemo } from 'react'
import type { CaptureInfo } from '#shared/domain/capture.ts'
import { MEASURES, type MeasureId } from '#shared/domain/measures.ts'
import { withUncertainty } from '#shared/domain/quantity-text.ts'
import { useMatrix } from '../../client/queries.ts'
import { fixed, pair, printMeasure, UNDEFINED_TEXT } from '../../ui/format.ts'
import { cellEffect } from './cell-effect.ts'

export interface EffectLineProps {
  readonly info: CaptureInfo
  readonly recipeHash: string
  readonly measure: MeasureId
}

/** The mean of the capture's cell, how many are in and out of it, and what this capture does to it. */
export function EffectLine({ info, recipeHash, measure }: EffectLineProps) {
  const { data } = useMatrix(info.sweepId, recipeHash, [measure])
  const effect = useMemo(() => {
    const cell = data?.cells.find(({ from, to }) => from === info.from && to === info.to)
    return cell === undefined ? null : cellEffect(cell.entries, measure, info.id)
  }, [data, info, measure])
  const title = `Mean of ${pair(info.from, info.to)} in this sweep, ${MEASURES[measure].label.toLowerCase()}`
  if (effect === null)
    return (
      <div className="pane effect" role="status" aria-label="Effect on its cell">
        <span className="effect-title">{title}</span>
        <span className="minor">{data === undefined ? 'Reading…' : 'This capture is not part of the mean.'}</span>
      </div>
    )
  const { now, otherwise, change, excluded, isExcluded } = effect
  return (
    <div className="pane effect" role="status" aria-label="Effect on its cell">
      <span className="effect-title" title={title}>
        Mean of {pair(info.from, info.to)}
      </span>
      <span className="effect-mean" title={now.u95 === null ? 'No U95 below five captures' : 'Mean ± U95'}>
        {now.mean === null ? UNDEFINED_TEXT : intervalText(measure, now.mean, now.u95)}
      </span>
      <span>
        n {now.n}, <span className={excluded > 0 ? 'warn-text' : ''}>{excluded} excluded</span>
      </span>
      <span>
        {otherwise === null
          ? 'This capture has no value, so it does not affect the mean.'
          : otherwise.mean === null
            ? `${isExcluded ? 'With' : 'Without'} this capture: no capture left to average.`
            : `${isExcluded ? 'With' : 'Without'} this capture: ${intervalText(measure, otherwise.mean, otherwise.u95)}${changeText(measure, change, now.mean)}, n ${otherwise.n}`}
      </span>
    </div>
  )
}

/** A mean and its U95 in one piece, where there is one. */
function intervalText(id: MeasureId, mean: number, u95: number | null): string {
  if (u95 === null) return meanText(id, mean)
  if (id === 'in_window') return `${Math.round(mean * 100)} ± ${Math.round(u95 * 100)} %`
  return withUncertainty(mean, u95, MEASURES[id].unit)
}

function meanText(id: MeasureId, value: number): string {
  if (id === 'in_window') return `${Math.round(value * 100)} %`
  const { text, unit } = printMeasure(id, value)
  return `${text} ${unit}`.trim()
}

function changeText(id: MeasureId, change: number | null, from: number | null): string {
  if (change === null || from === null) return ''
  // To the decimals of the mean it changes, not to its own.
  const size =
    MEASURES[id].unit === 's' ? `${fixed(change * 1000, Math.abs(from) < 0.099995 ? 2 : 1)} ms` : meanText(id, change)
  const signed = `${change > 0 ? '+' : ''}${size}`
  const share = from === 0 || id === 'in_window' ? '' : `, ${change > 0 ? '+' : ''}${fixed((100 * change) / from, 1)} %`
  return ` (${signed}${share})`
}
