import { Label, Radio, RadioGroup, Text } from 'react-aria-components'

export interface RadioInputProps {
  readonly label: string
  readonly hint: string
  readonly value: string
  readonly choices: readonly { readonly id: string; readonly label: string; readonly warning?: string }[]
  /** Said beside the label, such as the saved value while it is another one. */
  readonly note?: string | undefined
  readonly onChange: (id: string) => void
}

/** One of a few, all in sight. The warning of the chosen one is shown; the others carry a sign that they have one. */
export function RadioInput({ label, hint, value, choices, note, onChange }: RadioInputProps) {
  const warning = choices.find(({ id }) => id === value)?.warning
  return (
    <RadioGroup className="radio-group" value={value} onChange={onChange}>
      <Label className="field-label">
        {label}
        {note === undefined ? null : <span className="changed-note"> {note}</span>}
      </Label>
      <div className="radio-choices">
        {choices.map((choice) => (
          <Radio key={choice.id} value={choice.id} className="radio">
            <span className="radio-dot" aria-hidden="true" />
            {choice.label}
            {choice.warning === undefined ? null : (
              <span className="warn-text">
                <span aria-hidden="true">▲</span>
                <span className="visually-hidden"> (rings on steps)</span>
              </span>
            )}
          </Radio>
        ))}
      </div>
      <Text slot="description" className="field-hint">
        {hint}
      </Text>
      {warning === undefined ? null : (
        <p className="warn-text field-warning" role="status">
          ▲ {warning}
        </p>
      )}
    </RadioGroup>
  )
}
