import { FIGURES, type Limits } from '#shared/findings/campaign/figures.ts'
import { Segmented } from '../../ui/controls.tsx'
import { NumberSlider } from '../../ui/number-slider.tsx'
import { SwitchInput } from '../../ui/fields.tsx'
import { LIMITED, type LimitRange, withLimit } from './limits.ts'

/** Each limit with a switch and a slider; everything below follows at once. */
export function LimitsForm(props: {
  readonly limits: Limits
  readonly onChange: (limits: Limits) => void
  readonly weighting: 'equal' | 'trapezoid'
  readonly onWeighting: (weighting: 'equal' | 'trapezoid') => void
}) {
  return (
    <section className="limits" aria-label="Limits">
      <h2>Usable means</h2>
      {LIMITED.map((range) => (
        <LimitField key={range.id} range={range} limits={props.limits} onChange={props.onChange} />
      ))}
      <h2>Mean over refresh</h2>
      <Segmented
        label="Weighting of the mean over refresh"
        value={props.weighting}
        choices={[
          { id: 'equal', label: 'Each rate alike' },
          { id: 'trapezoid', label: 'Over the range' },
        ]}
        onChange={props.onWeighting}
      />
      <p className="hint">These limits are a choice, not a standard. The report names them.</p>
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
