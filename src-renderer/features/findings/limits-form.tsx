import { memo } from 'react'
import { type FigureId, FIGURES, USUAL_JUDGEMENT } from '#shared/findings/campaign/figures.ts'
import type { Limit } from '#shared/findings/campaign/limits.ts'
import type { Weighting } from '#shared/findings/campaign/over-refresh.ts'
import { Action, Segmented } from '../../ui/controls.tsx'
import { NumberSlider } from '../../ui/number-slider.tsx'
import { SwitchInput } from '../../ui/fields.tsx'
import { useStable } from '../../ui/use-stable.ts'
import { LIMITED, type LimitRange } from './limits.ts'
import type { JudgementEditor } from './use-judgement.ts'

/** Each limit with a switch and a slider; everything beside it follows at once, and is kept with the campaign. */
export function LimitsForm(props: {
  readonly editor: JudgementEditor
  /** Never another function. */
  readonly onLimit: (id: FigureId, limit: Limit | null) => void
}) {
  const { editor, onLimit } = props
  const { judgement, edit, undo, redo, isUsual } = editor
  const { limits, weighting } = judgement
  const weigh = useStable((next: Weighting) => edit('weighting', { limits, weighting: next }))
  const back = useStable(() => undo?.())
  const forth = useStable(() => redo?.())
  const usual = useStable(() => edit('usual', USUAL_JUDGEMENT))
  return (
    <section className="limits" aria-label="Limits">
      <h2>Usable means</h2>
      {LIMITED.map((range) => (
        <LimitField key={range.id} range={range} limit={limits[range.id]} onLimit={onLimit} />
      ))}
      <h2>Mean over refresh</h2>
      <Weighted weighting={weighting} onWeighting={weigh} />
      <Steps
        onUndo={back}
        onRedo={forth}
        onUsual={usual}
        canUndo={undo !== null}
        canRedo={redo !== null}
        isUsual={isUsual}
      />
    </section>
  )
}

/** The parts are drawn again only with what they show: a dragged limit moves its own slider. */
const Weighted = memo(function Weighted(props: {
  readonly weighting: Weighting
  readonly onWeighting: (weighting: Weighting) => void
}) {
  return (
    <Segmented
      label="Weighting of the mean over refresh"
      value={props.weighting}
      choices={[
        { id: 'equal', label: 'Each rate alike' },
        { id: 'trapezoid', label: 'Over the range' },
      ]}
      onChange={props.onWeighting}
    />
  )
})

const Steps = memo(function Steps(props: {
  readonly onUndo: () => void
  readonly onRedo: () => void
  readonly onUsual: () => void
  readonly canUndo: boolean
  readonly canRedo: boolean
  readonly isUsual: boolean
}) {
  const { onUndo, onRedo, onUsual, canUndo, canRedo, isUsual } = props
  return (
    <>
      <div className="limits-undo" role="group" aria-label="Changes of the limits">
        <Action size="small" isDisabled={!canUndo} onPress={onUndo}>
          Undo
        </Action>
        <Action size="small" isDisabled={!canRedo} onPress={onRedo}>
          Redo
        </Action>
        <Action size="small" isDisabled={isUsual} onPress={onUsual}>
          Usual limits
        </Action>
      </div>
      <p className="hint">
        {isUsual ? 'These are the usual limits. ' : 'These limits are kept with the campaign. '}
        Limits are a choice, not a standard; the report names them.
      </p>
    </>
  )
})

const LimitField = memo(function LimitField(props: {
  readonly range: LimitRange
  readonly limit: Limit | undefined
  readonly onLimit: (id: FigureId, limit: Limit | null) => void
}) {
  const { range, limit, onLimit } = props
  const { id, bound, start } = range
  const { label, unit } = FIGURES[id]
  const scale = unit === 's' ? 1000 : 1
  return (
    <div className="limit">
      <SwitchInput
        label={`${label} ${bound === 'at-most' ? 'at most' : 'at least'}, ${unit === 's' ? 'ms' : unit}`}
        isSelected={limit !== undefined}
        onChange={(on) => onLimit(id, on ? { bound, value: start } : null)}
      />
      {limit === undefined ? null : (
        <div className="limit-value">
          <NumberSlider
            label={label}
            hint=""
            unit={unit === 's' ? 'ms' : unit}
            value={limit.value * scale}
            min={range.min * scale}
            max={range.max * scale}
            scale={{ min: range.min * scale, max: range.max * scale, step: range.step * scale }}
            onChange={(value) => onLimit(id, { bound, value: value / scale })}
          />
        </div>
      )}
    </div>
  )
})
