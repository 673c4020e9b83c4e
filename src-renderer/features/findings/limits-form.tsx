import { FIGURES, type Limits, USUAL_JUDGEMENT } from '#shared/findings/campaign/figures.ts'
import { Action, Segmented } from '../../ui/controls.tsx'
import { NumberSlider } from '../../ui/number-slider.tsx'
import { SwitchInput } from '../../ui/fields.tsx'
import { LIMITED, type LimitRange, withLimit } from './limits.ts'
import type { JudgementEditor } from './use-judgement.ts'

/** Each limit with a switch and a slider; everything beside it follows at once, and is kept with the campaign. */
export function LimitsForm({ editor }: { readonly editor: JudgementEditor }) {
  const { judgement, edit, undo, redo, isUsual } = editor
  const { limits, weighting } = judgement
  return (
    <section className="limits" aria-label="Limits">
      <h2>Usable means</h2>
      {LIMITED.map((range) => (
        <LimitField
          key={range.id}
          range={range}
          limits={limits}
          onChange={(next) => edit(range.id, { limits: next, weighting })}
        />
      ))}
      <h2>Mean over refresh</h2>
      <Segmented
        label="Weighting of the mean over refresh"
        value={weighting}
        choices={[
          { id: 'equal', label: 'Each rate alike' },
          { id: 'trapezoid', label: 'Over the range' },
        ]}
        onChange={(next) => edit('weighting', { limits, weighting: next })}
      />
      <div className="limits-undo" role="group" aria-label="Changes of the limits">
        <Action size="small" isDisabled={undo === null} onPress={() => undo?.()}>
          Undo
        </Action>
        <Action size="small" isDisabled={redo === null} onPress={() => redo?.()}>
          Redo
        </Action>
        <Action size="small" isDisabled={isUsual} onPress={() => edit('usual', USUAL_JUDGEMENT)}>
          Usual limits
        </Action>
      </div>
      <p className="hint">
        {isUsual ? 'These are the usual limits. ' : 'These limits are kept with the campaign. '}
        Limits are a choice, not a standard; the report names them.
      </p>
    </section>
  )
}

function LimitField({
  range,
  limits,
  onChange,
}: {
  readonly range: LimitRange
  readonly limits: Limits
  readonly onChange: (limits: Limits) => void
}) {
  const { id, bound, start } = range
  const { label, unit } = FIGURES[id]
  const limit = limits[id]
  const scale = unit === 's' ? 1000 : 1
  return (
    <div className="limit">
      <SwitchInput
        label={`${label} ${bound === 'at-most' ? 'at most' : 'at least'}, ${unit === 's' ? 'ms' : unit}`}
        isSelected={limit !== undefined}
        onChange={(on) => onChange(withLimit(limits, id, on ? { bound, value: start } : null))}
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
            onChange={(value) => onChange(withLimit(limits, id, { bound, value: value / scale }))}
          />
        </div>
      )}
    </div>
  )
}
