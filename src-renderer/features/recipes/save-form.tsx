import { memo, useState } from 'react'
import type { Recipe } from '#shared/domain/recipe.ts'
import { Action } from '../../ui/controls.tsx'
import { FieldRow, TextInput } from '../../ui/fields.tsx'
import type { KnownRecipe } from './recipe-list.tsx'

export interface SaveFormProps {
  readonly saved: Recipe
  readonly changed: boolean
  /** Names that other recipes have. */
  readonly names: readonly string[]
  /** A saved recipe with the parameters at hand; null when there is none. */
  readonly twin: KnownRecipe | null
  readonly onSave: (name: string, note: string) => void
}

/** A name nobody has: the old one with a number behind it. */
export function freeName(name: string, names: readonly string[]): string {
  const stem = name.replace(/, variant(?: \d+)?$/, '')
  for (let i = 1; ; i++) {
    const tried = `${stem.slice(0, 66)}, variant${i === 1 ? '' : ` ${i}`}`
    if (!names.includes(tried)) return tried
  }
}

/** Saving makes a new recipe; the one it came from stays as it is. */
export const SaveForm = memo(function SaveForm({ saved, changed, names, twin, onSave }: SaveFormProps) {
  const [typed, setTyped] = useState<string | null>(null)
  const [note, setNote] = useState('')
  if (!changed)
    return (
      <footer className="recipe-save">
        <p className="field-hint">
          Saved recipes never change. Change a parameter to make a new one; the trace shows at once what it does.
        </p>
      </footer>
    )
  if (twin !== null)
    return (
      <footer className="recipe-save">
        <p role="status">
          These parameters are already saved as <a href={`#/recipes/${twin.hash}`}>{twin.recipe.name}</a>.
        </p>
      </footer>
    )
  const name = typed ?? freeName(saved.name, names)
  const taken = names.includes(name.trim())
  const error = name.trim() === '' ? 'Enter a name.' : taken ? 'Another recipe has this name.' : undefined
  const save = () => {
    if (error === undefined) onSave(name.trim(), note.trim())
  }
  return (
    <form
      className="recipe-save"
      aria-label="Save as a new recipe"
      onSubmit={(event) => {
        event.preventDefault()
        save()
      }}
    >
      <FieldRow lead>
        <TextInput label="Name of the new recipe" value={name} onChange={setTyped} maxLength={80} error={error} />
        <TextInput label="Note" value={note} onChange={setNote} maxLength={500} />
      </FieldRow>
      <Action tone="main" type="submit" isDisabled={error !== undefined}>
        Save as new recipe
      </Action>
    </form>
  )
})
