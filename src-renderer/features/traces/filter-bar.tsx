import { useImperativeHandle, useRef, useState, type Ref } from 'react'
import { Button, Disclosure, DisclosurePanel, Heading } from 'react-aria-components'
import { MEASURE_IDS, MEASURES } from '#shared/domain/measures.ts'
import { FLAG_IDS, type FlagId } from '#shared/domain/result.ts'
import { useCampaigns, useSweeps } from '../../client/queries.ts'
import { Action, Segmented } from '../../ui/controls.tsx'
import { FieldRow, SelectInput, SwitchInput, TextInput } from '../../ui/fields.tsx'
import { hertz } from '../../ui/format.ts'
import { FLAG_WORDS, REVIEW_WORDS, VERDICT_WORDS } from '../../ui/words.ts'
import { asksSomething, EVERYTHING, type DeskFilter, type SortBy } from '../../navigation/address.ts'

export interface FilterBarHandle {
  focus(): void
}

export interface FilterBarProps {
  readonly ref: Ref<FilterBarHandle>
  readonly filter: DeskFilter
  readonly onFilter: (filter: DeskFilter) => void
}

const QUICK = [
  { id: 'all', label: 'All' },
  { id: 'doubtful', label: 'Doubtful' },
  { id: 'out-of-line', label: 'Out of line' },
] as const
const OUT_OF_LINE: FlagId = 'differs-from-repeats'

const SORTS: readonly { readonly id: SortBy; readonly label: string }[] = [
  { id: 'id', label: 'Number' },
  { id: 'flags', label: 'Flags' },
  ...MEASURE_IDS.map((id) => ({ id, label: MEASURES[id].label })),
]

const ANY = 'any'
const any = { id: ANY, label: 'Any' } as const
const orAny = <K extends string>(value: K | null): K | typeof ANY => value ?? ANY
const orNull = <K extends string>(value: K | typeof ANY): K | null => (value === ANY ? null : value)

const FLAGS = [any, ...FLAG_IDS.map((id) => ({ id, label: FLAG_WORDS[id] }))]
const REVIEWS = [
  any,
  { id: 'none', label: 'not reviewed' },
  ...(['keep', 'exclude', 'retake', 'override'] as const).map((id) => ({ id, label: REVIEW_WORDS[id] })),
] as const
const VERDICTS = [
  any,
  ...(['good', 'dropped-frame', 'gapped', 'no-edge'] as const).map((id) => ({ id, label: VERDICT_WORDS[id] })),
]

/** Which captures are listed and in which order. */
export function FilterBar({ ref, filter, onFilter }: FilterBarProps) {
  const box = useRef<HTMLDivElement>(null)
  const [open, setOpen] = useState(false)
  const set = (change: Partial<DeskFilter>) => onFilter({ ...filter, ...change })
  useImperativeHandle(
    ref,
    () => ({ focus: () => box.current?.querySelector<HTMLElement>('button:not([tabindex="-1"])')?.focus() }),
    [],
  )
  const quick = filter.doubtful ? 'doubtful' : filter.flag === OUT_OF_LINE ? 'out-of-line' : 'all'
  const asked = wordsOf(filter)
  return (
    <div ref={box} className="filter-bar" role="search" aria-label="Which captures are listed">
      <Segmented
        label="Captures listed"
        value={quick}
        choices={QUICK}
        onChange={(id) =>
          set({
            doubtful: id === 'doubtful',
            flag: id === 'out-of-line' ? OUT_OF_LINE : filter.flag === OUT_OF_LINE ? null : filter.flag,
          })
        }
      />
      <div className="sort-row">
        <SelectInput label="Order by" value={filter.sort} choices={SORTS} onChange={(sort) => set({ sort })} />
        <Action
          aria-label={filter.descending ? 'high first; switch to low first' : 'low first; switch to high first'}
          onPress={() => set({ descending: !filter.descending })}
        >
          {filter.descending ? '↓ high first' : '↑ low first'}
        </Action>
      </div>
      <Disclosure className="disclosure" isExpanded={open} onExpandedChange={setOpen}>
        <Heading level={2} className="disclosure-head">
          <Button slot="trigger" className="disclosure-button">
            <span aria-hidden="true" className="disclosure-arrow" />
            <span className="filter-words">{asked === '' ? 'More filters' : asked}</span>
          </Button>
          {asksSomething(filter) ? (
            <Action
              size="small"
              tone="quiet"
              onPress={() => onFilter({ ...EVERYTHING, sort: filter.sort, descending: filter.descending })}
            >
              Clear
            </Action>
          ) : null}
        </Heading>
        <DisclosurePanel className="disclosure-panel stack">
          <Origin filter={filter} set={set} />
          <FieldRow>
            <LevelInput label="From" value={filter.from} onChange={(from) => set({ from })} />
            <LevelInput label="To" value={filter.to} onChange={(to) => set({ to })} />
          </FieldRow>
          <SelectInput
            label="Flag"
            value={orAny(filter.flag)}
            choices={FLAGS}
            onChange={(flag) => set({ flag: orNull(flag) })}
          />
          <FieldRow>
            <SelectInput
              label="Review"
              value={orAny(filter.review)}
              choices={REVIEWS}
              onChange={(review) => set({ review: orNull(review) })}
            />
            <SelectInput
              label="Verdict"
              value={orAny(filter.verdict)}
              choices={VERDICTS}
              onChange={(verdict) => set({ verdict: orNull(verdict) })}
            />
          </FieldRow>
          <SwitchInput label="With a note only" isSelected={filter.noted} onChange={(noted) => set({ noted })} />
        </DisclosurePanel>
      </Disclosure>
    </div>
  )
}

function Origin({ filter, set }: { filter: DeskFilter; set: (change: Partial<DeskFilter>) => void }) {
  const campaigns = useCampaigns().data ?? []
  const sweeps = useSweeps(filter.campaignId ?? campaigns[0]?.id ?? null).data ?? []
  const shown = filter.campaignId === null && campaigns.length > 1 ? [] : sweeps
  return (
    <>
      <SelectInput
        label="Campaign"
        value={orAny(filter.campaignId === null ? null : String(filter.campaignId))}
        choices={[any, ...campaigns.map(({ id, name }) => ({ id: String(id), label: name }))]}
        onChange={(id) => set({ campaignId: id === ANY ? null : Number(id), sweepId: null })}
      />
      <SelectInput
        label="Sweep"
        value={orAny(filter.sweepId === null ? null : String(filter.sweepId))}
        choices={[
          any,
          ...(filter.sweepId !== null && shown.every(({ id }) => id !== filter.sweepId)
            ? [{ id: String(filter.sweepId), label: `Sweep ${filter.sweepId}` }]
            : []),
          ...shown.map(({ id, plan }) => ({
            id: String(id),
            label: `${id}: ${plan.setting}, ${hertz(plan.refreshHz)} Hz`,
          })),
        ]}
        onChange={(id) => set({ sweepId: id === ANY ? null : Number(id) })}
        {...(shown.length === 0 ? { hint: 'Choose a campaign to choose among its sweeps.' } : {})}
      />
    </>
  )
}

/** A grey-level code; empty asks nothing, and what is no code is said and not asked. */
function LevelInput(props: { label: string; value: number | null; onChange: (level: number | null) => void }) {
  const [text, setText] = useState(props.value === null ? '' : String(props.value))
  const [seen, setSeen] = useState(props.value)
  if (seen !== props.value) {
    setSeen(props.value)
    setText(props.value === null ? '' : String(props.value))
  }
  const read = (entry: string): number | null | undefined => {
    if (entry.trim() === '') return null
    return /^\d{1,3}$/.test(entry.trim()) && Number(entry) <= 255 ? Number(entry) : undefined
  }
  return (
    <TextInput
      label={props.label}
      unit="code"
      inputMode="numeric"
      placeholder="any"
      value={text}
      error={read(text) === undefined ? 'A code from 0 to 255.' : undefined}
      onChange={(next) => {
        setText(next)
        const level = read(next)
        if (level === undefined) return
        setSeen(level)
        props.onChange(level)
      }}
    />
  )
}

/** The filters beyond the quick choice, in words. */
function wordsOf(filter: DeskFilter): string {
  const parts = [
    filter.sweepId === null
      ? filter.campaignId === null
        ? ''
        : `campaign ${filter.campaignId}`
      : `sweep ${filter.sweepId}`,
    filter.from === null && filter.to === null ? '' : `${filter.from ?? 'any'} → ${filter.to ?? 'any'}`,
    filter.flag === null || filter.flag === OUT_OF_LINE ? '' : FLAG_WORDS[filter.flag],
    filter.review === null ? '' : filter.review === 'none' ? 'not reviewed' : REVIEW_WORDS[filter.review],
    filter.verdict === null ? '' : VERDICT_WORDS[filter.verdict],
    filter.noted ? 'with a note' : '',
  ]
  return parts.filter((part) => part !== '').join(', ')
}
