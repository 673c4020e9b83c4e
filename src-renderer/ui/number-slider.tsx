import { useId, useState } from 'react'
import { parseTyped, positionOf, positionsOf, typedText, valueAt, type SliderScale } from './slider-scale.ts'

export interface NumberSliderProps {
  readonly label: string
  readonly unit: string
  readonly hint: string
  readonly value: number
  /** What may be typed; the slider may cover less of it. */
  readonly min: number
  readonly max: number
  readonly scale: SliderScale
  readonly whole?: boolean
  /** Said beside the label, such as the saved value while it is another one. */
  readonly note?: string | undefined
  readonly onChange: (value: number) => void
}

/** A slider and a field for the same number. What is typed counts as soon as it is a possible value. */
export function NumberSlider(props: NumberSliderProps) {
  const { label, unit, hint, value, min, max, scale, whole = false, onChange } = props
  const id = useId()
  const [typed, setTyped] = useState<string | null>(null)
  const problem = typed === null ? null : problemOf(typed, min, max, whole, unit)
  const text = `${typedText(value)} ${unit}`.trim()
  const type = (next: string) => {
    setTyped(next)
    const number = parseTyped(next)
    if (number !== null && problemOf(next, min, max, whole, unit) === null && number !== value) onChange(number)
  }
  return (
    <div className="number-slider">
      <label className="field-label" htmlFor={`${id}-field`}>
        {label}
        {unit === '' ? null : <span className="field-unit">, {unit}</span>}
        {props.note === undefined ? null : <span className="changed-note"> {props.note}</span>}
      </label>
      <div className="number-slider-row">
        <input
          type="range"
          className="slider"
          aria-label={label}
          aria-valuetext={text}
          min={0}
          max={positionsOf(scale)}
          step={1}
          value={positionOf(value, scale)}
          onChange={(event) => {
            setTyped(null)
            onChange(valueAt(Number(event.target.value), scale))
          }}
        />
        <input
          id={`${id}-field`}
          className="input"
          inputMode={whole ? 'numeric' : 'decimal'}
          autoComplete="off"
          spellCheck={false}
          value={typed ?? typedText(value)}
          aria-invalid={problem !== null}
          aria-describedby={`${id}-hint`}
          onChange={(event) => type(event.target.value)}
          onBlur={() => setTyped(null)}
        />
      </div>
      <p id={`${id}-hint`} className={problem === null ? 'field-hint' : 'field-error'}>
        {problem ?? hint}
      </p>
    </div>
  )
}

function problemOf(text: string, min: number, max: number, whole: boolean, unit: string): string | null {
  const number = parseTyped(text)
  const range = `${typedText(min)} to ${typedText(max)} ${unit}`.trim()
  if (number === null) return `A number from ${range} is needed.`
  if (number < min || number > max) return `Outside ${range}; the previous value stays.`
  if (whole && !Number.isInteger(number)) return `A whole number from ${range} is needed.`
  return null
}
