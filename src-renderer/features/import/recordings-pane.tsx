import { useCallback, useMemo } from 'react'
import {
  DropZone,
  FileTrigger,
  isDirectoryDropItem,
  isFileDropItem,
  ListBox,
  ListBoxItem,
  ListLayout,
  Text,
  Virtualizer,
  type DropItem,
} from 'react-aria-components'
import { Action, StatusDot } from '../../ui/controls.tsx'
import { SelectInput, TextInput } from '../../ui/fields.tsx'
import { bytes, count, pair, plural, significant } from '../../ui/format.ts'
import { useDesk } from './desk.ts'
import { RULE_WORDS, type EntryState, type NameRule, type Row } from './desk-model.ts'
import type { History } from './edits.ts'

export interface RecordingsPaneProps {
  readonly rows: readonly Row[]
  readonly history: History
  readonly selected: ReadonlySet<number>
  readonly ruleProblem: string
}

const ROW_HEIGHT = 44
const MAX_NAMES_SHOWN = 3

export function RecordingsPane(props: RecordingsPaneProps) {
  const { rows, history, selected } = props
  const desk = useDesk()
  const choose = useCallback((files: FileList | null) => desk.add([...(files ?? [])]), [desk])
  const drop = (items: readonly DropItem[]) => void filesOf(items).then((files) => desk.add(files))
  const lastEdit = history.past.at(-1)
  const undone = history.future.at(-1)
  return (
    <DropZone
      className="pane recordings"
      getDropOperation={() => 'copy'}
      onDrop={({ items }) => drop(items)}
      aria-label="Drop or paste recordings here"
    >
      <Text slot="label" className="visually-hidden">
        Drop or paste recordings here
      </Text>
      <header className="pane-head recordings-head">
        <h2>Recordings</h2>
        <span className="minor">{rows.length === 0 ? '' : tally(rows)}</span>
        <span className="pane-space" />
        <FileTrigger allowsMultiple onSelect={choose}>
          <Action size="small" tone={rows.length === 0 ? 'main' : 'plain'}>
            Choose files…
          </Action>
        </FileTrigger>
      </header>
      {rows.length === 0 ? (
        <div className="recordings-empty">
          <strong>Drop oscilloscope CSV files here</strong>
          <p>
            One file holds one transition: a voltage column, and a time column or a known sample interval. Many files
            become one sweep. Nothing is stored before you press Import.
          </p>
        </div>
      ) : (
        <>
          <NameRuleFields rows={rows} rule={history.present.rule} problem={props.ruleProblem} />
          <RecordingList rows={rows} selected={selected} />
        </>
      )}
      {lastEdit === undefined && undone === undefined ? null : (
        <footer className="recordings-foot">
          {rows.length === 0 ? null : (
            <Action
              size="small"
              isDisabled={selected.size === 0}
              onPress={() => desk.remove(new Set(rows.filter(({ key }) => selected.has(key)).map(({ key }) => key)))}
            >
              Remove {selected.size > 1 ? selected.size : ''} chosen
            </Action>
          )}
          <span className="pane-space" />
          <Action size="small" isDisabled={lastEdit === undefined} onPress={desk.undo}>
            Undo{lastEdit === undefined ? '' : ` ${lastEdit.note.what}`}
          </Action>
          <Action size="small" isDisabled={undone === undefined} onPress={desk.redo}>
            Redo
          </Action>
        </footer>
      )}
    </DropZone>
  )
}

/** Files of a drop; of a folder, the files directly in it. */
async function filesOf(items: readonly DropItem[]): Promise<File[]> {
  const files: File[] = []
  for (const item of items) {
    // One after the other keeps their order.
    // oxlint-disable-next-line no-await-in-loop
    if (isFileDropItem(item)) files.push(await item.getFile())
    else if (isDirectoryDropItem(item))
      for await (const inside of item.getEntries()) if (inside.kind === 'file') files.push(await inside.getFile())
  }
  return files
}

function tally(rows: readonly Row[]): string {
  const of = (...states: EntryState[]) => rows.filter(({ state }) => states.includes(state)).length
  const parts = [plural(rows.length, 'file'), `${count(of('ready'))} ready`]
  const waiting = of('waiting')
  const unfit = rows.length - waiting - of('ready')
  if (waiting > 0) parts.push(`${count(waiting)} being read`)
  if (unfit > 0) parts.push(`${count(unfit)} ${unfit === 1 ? 'needs' : 'need'} attention`)
  return parts.join(', ')
}

function NameRuleFields({ rows, rule, problem }: { rows: readonly Row[]; rule: NameRule; problem: string }) {
  const desk = useDesk()
  const without = useMemo(() => rows.filter(({ fromName }) => fromName.from === null), [rows])
  const names = without.slice(0, MAX_NAMES_SHOWN).map(({ name }) => name)
  const more = without.length - names.length
  return (
    <div className="name-rule">
      <div className="field-row">
        <SelectInput<NameRule['kind']>
          label="Levels from file names"
          value={rule.kind}
          onChange={(kind) => desk.setRule({ ...rule, kind })}
          choices={(['plain', 'pattern', 'none'] as const).map((kind) => ({ id: kind, label: RULE_WORDS[kind] }))}
        />
        {rule.kind === 'pattern' ? (
          <TextInput
            label="Pattern"
            value={rule.text}
            onChange={(text) => desk.setRule({ ...rule, text })}
            error={problem === '' ? undefined : problem}
            maxLength={100}
            hint="{from}, {to}, {repeat}; * stands for anything"
          />
        ) : null}
      </div>
      {rule.kind === 'none' ? null : (
        <p className="hint" role="status">
          {without.length === 0
            ? `Levels are read from ${rows.length === 1 ? 'the name' : rows.length === 2 ? 'both names' : `all ${count(rows.length)} names`}.`
            : `Levels are read from ${count(rows.length - without.length)} of ${plural(rows.length, 'name')}; none from ${names.join(', ')}${more > 0 ? ` and ${count(more)} more` : ''}.`}
        </p>
      )}
    </div>
  )
}

function RecordingList({ rows, selected }: { rows: readonly Row[]; selected: ReadonlySet<number> }) {
  const desk = useDesk()
  return (
    // The list takes the arrow keys; this only adds the key that removes.

    <div
      className="recordings-list-holder"
      onKeyDown={(event) => {
        if (event.key === 'Delete') desk.remove(selected)
      }}
    >
      <Virtualizer layout={ListLayout} layoutOptions={{ rowSize: ROW_HEIGHT }}>
        <ListBox
          aria-label="Recordings to import"
          className="recordings-list"
          selectionMode="multiple"
          selectionBehavior="replace"
          selectedKeys={selected}
          onSelectionChange={(keys) =>
            desk.select(new Set(keys === 'all' ? rows.map(({ key }) => key) : [...keys].map(Number)))
          }
          items={rows}
        >
          {(row) => (
            <ListBoxItem id={row.key} className="recording" textValue={row.name}>
              <RecordingLine row={row} />
            </ListBoxItem>
          )}
        </ListBox>
      </Virtualizer>
    </div>
  )
}

const TONES: Readonly<Record<EntryState, 'good' | 'warn' | 'bad' | 'idle'>> = {
  waiting: 'idle',
  unreadable: 'bad',
  interval: 'warn',
  levels: 'warn',
  repeat: 'warn',
  ready: 'good',
}

function RecordingLine({ row }: { row: Row }) {
  const { state, preview } = row
  const byHand = row.hand.from.trim() !== '' || row.hand.to.trim() !== ''
  const known = row.from !== null && row.to !== null
  return (
    <>
      <span className="recording-name">{row.name}</span>
      <span className="recording-pair">
        {known ? pair(row.from ?? 0, row.to ?? 0) : 'levels not known'}
        {row.repeat === null ? null : <span className="minor"> repeat {row.repeat}</span>}
        {known && byHand ? <span className="minor">, by hand</span> : null}
      </span>
      <span className="recording-state">
        <StatusDot tone={state === 'ready' && row.warnings.length > 0 ? 'warn' : TONES[state]}>
          {stateWords(row)}
        </StatusDot>
      </span>
      <span className="recording-note">
        {row.problem !== ''
          ? row.problem
          : preview === null
            ? bytes(row.bytes)
            : `${plural(preview.sampleCount, 'sample')}, ${significant(preview.sampleRateHz / 1000, 4)} kS/s`}
      </span>
    </>
  )
}

function stateWords({ state, warnings }: Row): string {
  if (state === 'ready') return warnings.length === 0 ? 'ready' : `ready, ${plural(warnings.length, 'warning')}`
  const words = {
    waiting: 'being read',
    unreadable: 'cannot be read',
    interval: 'needs its interval',
    levels: 'needs its levels',
    repeat: 'needs its repeat',
  }
  return words[state]
}
