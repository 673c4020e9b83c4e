import { useMemo } from 'react'
import type { CaptureInfo } from '#shared/domain/capture.ts'
import { MEASURES, type MeasureId } from '#shared/domain/measures.ts'
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
        Cell mean
      </span>
      <span className="effect-mean">{now.mean === null ? UNDEFINED_TEXT : meanText(measure, now.mean)}</span>
      <span>
        n {now.n}, <span className={excluded > 0 ? 'warn-text' : ''}>{excluded} excluded</span>
        {now.u95 === null ? '' : `, U95 ${meanText(measure, now.u95)}`}
      </span>
      <span>
        {otherwise === null
          ? 'This capture has no value, so it does not affect the mean.'
          : otherwise.mean === null
            ? `${isExcluded ? 'With' : 'Without'} it: no capture left to average.`
            : `${isExcluded ? 'With' : 'Without'} it: ${meanText(measure, otherwise.mean)}${changeText(measure, change, now.mean)}, n ${otherwise.n}`}
      </span>
    </div>
  )
}

function meanText(id: MeasureId, value: number): string {
  if (id === 'in_window') return `${Math.round(value * 100)} %`
  const { text, unit } = printMeasure(id, value)
  return `${text} ${unit}`.trim()
}

function changeText(id: MeasureId, change: number | null, from: number | null): string {
  if (change === null || from === null) return ''
  const signed = `${change > 0 ? '+' : ''}${meanText(id, change)}`
  const share = from === 0 || id === 'in_window' ? '' : `, ${change > 0 ? '+' : ''}${fixed((100 * change) / from, 1)} %`
  return ` (${signed}${share})`
}
