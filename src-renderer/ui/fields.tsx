import { useId, type ReactNode } from 'react'
import {
  Button,
  FieldError,
  Input,
  Label,
  ListBox,
  ListBoxItem,
  Popover,
  Select,
  SelectValue,
  Switch,
  Text,
  TextField,
} from 'react-aria-components'

interface FieldProps {
  readonly label: string
  /** Printed after the label, and part of the accessible name. */
  readonly unit?: string
  readonly hint?: string
  readonly error?: string | undefined
  readonly isDisabled?: boolean
}

export interface TextInputProps extends FieldProps {
  readonly value: string
  readonly onChange: (value: string) => void
  readonly inputMode?: 'decimal' | 'numeric' | 'text'
  readonly maxLength?: number
  readonly placeholder?: string
  readonly isRequired?: boolean
  /** Takes the focus when it appears: for the first field of a dialog. */
  readonly autoFocus?: boolean
}

function Caption({ label, unit }: { label: string; unit?: string | undefined }) {
  return (
    <Label className="field-label">
      {label}
      {unit === undefined ? null : <span className="field-unit">, {unit}</span>}
    </Label>
  )
}

export function TextInput(props: TextInputProps) {
  const { label, unit, hint, error, value, onChange, inputMode = 'text', maxLength, placeholder = '' } = props
  return (
    <TextField
      className="field"
      value={value}
      onChange={onChange}
      isInvalid={error !== undefined}
      isDisabled={props.isDisabled ?? false}
      isRequired={props.isRequired ?? false}
      autoFocus={props.autoFocus ?? false}
      {...(maxLength === undefined ? {} : { maxLength })}
    >
      <Caption label={label} unit={unit} />
      <Input className="input" inputMode={inputMode} placeholder={placeholder} autoComplete="off" spellCheck={false} />
      {hint === undefined ? null : (
        <Text slot="description" className="field-hint">
          {hint}
        </Text>
      )}
      <FieldError className="field-error">{error}</FieldError>
    </TextField>
  )
}

interface Choice<K extends string> {
  readonly id: K
  readonly label: string
  readonly note?: string
}

export interface SelectInputProps<K extends string> extends FieldProps {
  readonly value: K | null
  readonly choices: readonly Choice<K>[]
  readonly onChange: (value: K) => void
  readonly placeholder?: string
}

export function SelectInput<K extends string>(props: SelectInputProps<K>) {
  const { label, unit, hint, error, value, choices, onChange, placeholder = 'Choose…' } = props
  return (
    <Select
      className="field"
      value={value}
      onChange={(key) => {
        const choice = choices.find(({ id }) => id === key)
        if (choice !== undefined) onChange(choice.id)
      }}
      isInvalid={error !== undefined}
      isDisabled={props.isDisabled ?? false}
      placeholder={placeholder}
    >
      <Caption label={label} unit={unit} />
      <Button className="input select-button">
        <SelectValue className="select-value" />
        <span aria-hidden="true" className="select-arrow">
          ▾
        </span>
      </Button>
      {hint === undefined ? null : (
        <Text slot="description" className="field-hint">
          {hint}
        </Text>
      )}
      <FieldError className="field-error">{error}</FieldError>
      <Popover className="popover">
        <ListBox className="list-box" items={choices}>
          {(choice) => (
            <ListBoxItem className="list-item" textValue={choice.label}>
              <span>{choice.label}</span>
              {choice.note === undefined ? null : <span className="list-note">{choice.note}</span>}
            </ListBoxItem>
          )}
        </ListBox>
      </Popover>
    </Select>
  )
}

export function SwitchInput(props: {
  readonly label: string
  readonly isSelected: boolean
  readonly onChange: (on: boolean) => void
  readonly isDisabled?: boolean
  readonly hint?: string
}) {
  const hintId = useId()
  return (
    <div className="switch-field">
      <Switch
        className="switch"
        isSelected={props.isSelected}
        onChange={props.onChange}
        isDisabled={props.isDisabled ?? false}
        {...(props.hint === undefined ? {} : { 'aria-describedby': hintId })}
      >
        <span className="switch-track" aria-hidden="true" />
        {props.label}
      </Switch>
      {props.hint === undefined ? null : (
        <p id={hintId} className="field-hint">
          {props.hint}
        </p>
      )}
    </div>
  )
}

/** Fields side by side; `lead` gives the first one more room. */
export function FieldRow({ lead = false, children }: { lead?: boolean; children: ReactNode }) {
  return <div className={lead ? 'field-row field-row-lead' : 'field-row'}>{children}</div>
}
