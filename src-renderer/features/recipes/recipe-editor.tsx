import { memo, type KeyboardEvent } from 'react'
import { recipeHash, type Recipe } from '#shared/domain/recipe.ts'
import { Action, StatusDot } from '../../ui/controls.tsx'
import { SwitchInput } from '../../ui/fields.tsx'
import { plural } from '../../ui/format.ts'
import { NumberSlider } from '../../ui/number-slider.tsx'
import { RadioInput } from '../../ui/radio-input.tsx'
import type { Field } from './field.ts'
import { changesFrom, fieldsOf, fieldText, sectionsOf } from './parameters.ts'
import { SaveForm, type SaveFormProps } from './save-form.tsx'

export interface RecipeEditorProps {
  readonly saved: Recipe
  readonly savedHash: string
  readonly recipe: Recipe
  readonly canUndo: boolean
  readonly canRedo: boolean
  readonly onEdit: (field: string, value: number | string | boolean) => void
  readonly onReset: () => void
  readonly onUndo: () => void
  readonly onRedo: () => void
  readonly onExport: () => void
  readonly names: SaveFormProps['names']
  readonly twin: SaveFormProps['twin']
  readonly onSave: SaveFormProps['onSave']
}

export function RecipeEditor(props: RecipeEditorProps) {
  const { saved, savedHash, recipe, onEdit, onUndo, onRedo } = props
  const hash = recipeHash(recipe)
  const changed = hash !== savedHash
  const before = new Map(fieldsOf(saved).map((field) => [field.id, fieldText(field)]))
  const noteOf = (field: Field): string | undefined => {
    const text = before.get(field.id)
    if (text === fieldText(field)) return undefined
    return text === undefined ? 'new' : `saved: ${text}`
  }
  const onKeyDown = (event: KeyboardEvent<HTMLElement>) => {
    if (!event.ctrlKey && !event.metaKey) return
    // In a field the keys take back what was typed.
    if (event.target instanceof HTMLInputElement && !['range', 'radio', 'checkbox'].includes(event.target.type)) return
    const key = event.key.toLowerCase()
    if (key === 'z' && !event.shiftKey) onUndo()
    else if (key === 'y' || (key === 'z' && event.shiftKey)) onRedo()
    else return
    event.preventDefault()
  }
  return (
    <section className="pane recipe-editor" aria-label="Parameters" data-recipe={hash} onKeyDown={onKeyDown}>
      <header className="recipe-editor-head">
        <div className="recipe-editor-title">
          <h2 title={saved.name}>{saved.name}</h2>
          <Action size="small" onPress={props.onExport}>
            Export
          </Action>
        </div>
        <div className="recipe-editor-tools">
          {changed ? (
            <span role="status" title={changesFrom(saved, recipe).join('\n')}>
              <StatusDot tone="warn">Unsaved: {plural(changesFrom(saved, recipe).length, 'change')}</StatusDot>
            </span>
          ) : (
            <span role="status" className="minor">
              Saved, {savedHash.slice(0, 8)}
            </span>
          )}
          <span className="pane-space" />
          <Action size="small" tone="quiet" isDisabled={!props.canUndo} onPress={onUndo}>
            Undo
          </Action>
          <Action size="small" tone="quiet" isDisabled={!props.canRedo} onPress={onRedo}>
            Redo
          </Action>
          <Action size="small" tone="quiet" isDisabled={!changed} onPress={props.onReset}>
            Reset
          </Action>
        </div>
      </header>
      <div className="recipe-fields">
        {sectionsOf(recipe).map(({ id, title, fields }) => (
          <fieldset key={id} className="recipe-section">
            <legend>{title}</legend>
            {fields.map((field) => (
              <FieldInput key={field.id} field={field} note={noteOf(field)} onEdit={onEdit} />
            ))}
          </fieldset>
        ))}
        {saved.note === '' ? null : <p className="field-hint">Note: {saved.note}</p>}
      </div>
      <SaveForm
        key={savedHash}
        saved={saved}
        changed={changed}
        names={props.names}
        twin={props.twin}
        onSave={props.onSave}
      />
    </section>
  )
}

interface FieldInputProps {
  readonly field: Field
  readonly note: string | undefined
  readonly onEdit: RecipeEditorProps['onEdit']
}

/**
 * Drawn again only when something of it changed: while a slider moves, the other fields stand still. What a change leads
 * to is worked out from the draft of that moment, so that nothing old is held here.
 */
const FieldInput = memo(function FieldInput({ field, note, onEdit }: FieldInputProps) {
  const { id, label, hint } = field
  const edit = (value: number | string | boolean) => onEdit(id, value)
  if (field.kind === 'number')
    return (
      <NumberSlider
        label={label}
        unit={field.unit}
        hint={hint}
        value={field.value}
        min={field.min}
        max={field.max}
        scale={field.scale}
        whole={field.whole}
        note={note}
        onChange={edit}
      />
    )
  if (field.kind === 'choice')
    return (
      <RadioInput label={label} hint={hint} value={field.value} choices={field.choices} note={note} onChange={edit} />
    )
  return (
    <SwitchInput
      label={note === undefined ? label : `${label} (${note})`}
      hint={hint}
      isSelected={field.value}
      onChange={edit}
    />
  )
}, looksAlike)

/** Bounds, units and choices hang on the field's name alone. */
function looksAlike(a: FieldInputProps, b: FieldInputProps): boolean {
  const [x, y] = [a.field, b.field]
  return x.id === y.id && x.value === y.value && x.hint === y.hint && a.note === b.note && a.onEdit === b.onEdit
}
