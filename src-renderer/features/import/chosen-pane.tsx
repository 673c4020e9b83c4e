import { useState } from 'react'
import { Action, EmptyState } from '../../ui/controls.tsx'
import { FieldRow, TextInput } from '../../ui/fields.tsx'
import { plural } from '../../ui/format.ts'
import { ColumnsForm } from './columns-form.tsx'
import { useDesk } from './desk.ts'
import { wholeNumber, type ByHand, type Row } from './desk-model.ts'
import { PreviewPlot } from './preview-plot.tsx'

/** The chosen recordings: their levels, how their columns are read, and what is in the first of them. */
export function ChosenPane({ rows, selected }: { rows: readonly Row[]; selected: ReadonlySet<number> }) {
  const chosen = rows.filter(({ key }) => selected.has(key))
  const [lead] = chosen
  if (lead === undefined)
    return (
      <EmptyState title="No recording chosen">
        Choose one in the list to see its trace and how its columns are read; select several to set them together.
      </EmptyState>
    )
  return (
    <div className="chosen">
      <header className="chosen-head">
        <h3>{lead.name}</h3>
        {chosen.length === 1 ? null : (
          <span className="minor">and {chosen.length - 1} more: what you set here is set for all of them.</span>
        )}
      </header>
      {lead.problem === '' ? null : (
        <div className="problem" role="status">
          <strong>{lead.problem}</strong> {lead.remedy}
        </div>
      )}
      <LevelsForm key={`levels ${keyOf(chosen)}`} chosen={chosen} lead={lead} />
      <PreviewPlot lead={lead} />
      {lead.warnings.length === 0 || lead.state === 'interval' ? null : (
        <ul className="remarks" aria-label="Warnings">
          {lead.warnings.map((warning) => (
            <li key={warning}>{warning}</li>
          ))}
        </ul>
      )}
      {lead.preview === null ? null : (
        <ColumnsForm key={`columns ${keyOf(chosen)}`} chosen={chosen} preview={lead.preview} />
      )}
    </div>
  )
}

const keyOf = (chosen: readonly Row[]): string => chosen.map(({ key }) => key).join(' ')

type LevelField = 'from' | 'to' | 'repeat'

/** The text by hand when all agree on it, else empty with what is in force as its placeholder. */
function LevelsForm({ chosen, lead }: { chosen: readonly Row[]; lead: Row }) {
  const desk = useDesk()
  const keys = new Set(chosen.map(({ key }) => key))
  const [wrong, setWrong] = useState<Partial<Record<LevelField, string>>>({})
  const field = (id: LevelField, label: string, unit: string, low: number, high: number) => {
    const texts = new Set(chosen.map(({ hand }) => hand[id]))
    const inForce = new Set(chosen.map((row) => row[id]))
    const only = inForce.size === 1 ? lead[id] : null
    return (
      <TextInput
        label={label}
        unit={unit}
        inputMode="numeric"
        maxLength={4}
        value={texts.size === 1 ? lead.hand[id] : ''}
        placeholder={inForce.size > 1 ? 'several' : only === null ? '' : String(only)}
        error={wrong[id]}
        onChange={(text) => {
          const fits = text.trim() === '' || wholeNumber(text, low, high) !== null
          setWrong({ ...wrong, [id]: fits ? undefined : `A whole number from ${low} to ${high}.` })
          const change = { [id]: text } as Partial<ByHand>
          desk.say(keys, `levels of ${plural(keys.size, 'recording')}`, id, () => change)
        }}
      />
    )
  }
  const anyByHand = chosen.some(({ hand }) => hand.from !== '' || hand.to !== '' || hand.repeat !== '')
  return (
    <div className="levels-form">
      <FieldRow>
        {field('from', 'From', 'code', 0, 255)}
        {field('to', 'To', 'code', 0, 255)}
        {chosen.length === 1 ? field('repeat', 'Repeat', '1, 2, …', 1, 1000) : null}
        <div className="levels-back">
          <Action
            size="small"
            isDisabled={!anyByHand}
            onPress={() => {
              setWrong({})
              desk.say(keys, 'what was set by hand', 'back', () => ({ from: '', to: '', repeat: '' }))
            }}
          >
            From the name
          </Action>
        </div>
      </FieldRow>
      {chosen.length === 1 ? null : (
        <p className="hint">Repeats are numbered 1, 2, 3 … within each transition, in the order of the list.</p>
      )}
    </div>
  )
}
