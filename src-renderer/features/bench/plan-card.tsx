import { useState, type ReactNode } from 'react'
import { Button, Disclosure, DisclosurePanel, Heading } from 'react-aria-components'
import { LEVEL_PRESETS } from '#shared/domain/plan.ts'
import { SIM_SETTINGS } from '#shared/domain/rig.ts'
import type { PlanCheck } from '#shared/domain/views.ts'
import { Action, Card } from '../../ui/controls.tsx'
import { FieldRow, SelectInput, TextInput } from '../../ui/fields.tsx'
import { duration } from '#shared/domain/quantity-text.ts'
import { bytes, count, plural } from '../../ui/format.ts'
import { LiftFlashLimit } from './lift-flash-limit.tsx'
import { presetOf, type LevelPreset, type PlanDraft, type PlanField, type PlanReading } from './plan-draft.ts'
import { Reminders } from './reminders.tsx'

export interface PlanCardProps {
  readonly draft: PlanDraft
  readonly onDraft: (draft: PlanDraft) => void
  readonly reading: PlanReading
  readonly check: PlanCheck | null
  /** The simulated display's settings are known; of another only those of the campaign's earlier sweeps. */
  readonly simulated: boolean
  readonly earlierSettings: readonly string[]
  /** Where the sweep goes. */
  readonly destination: ReactNode
  /** What a new sweep waits for besides a sound plan. */
  readonly blockers: readonly string[]
  readonly startable: boolean
  readonly busy: boolean
  readonly onStart: () => void
}

const FIELD_NAMES: Readonly<Record<PlanField, string>> = {
  setting: 'Setting',
  refreshHz: 'Refresh',
  levels: 'Levels',
  repeats: 'Repeats',
  maxAttempts: 'Attempts',
  seed: 'Seed',
  preMs: 'Before the edge',
  postMs: 'After the edge',
  spacingMs: 'Spacing',
  ladderSettleMs: 'Ladder: hold',
  ladderMs: 'Ladder: record',
  sampleRateKhz: 'Sample rate',
  rangeV: 'Input range',
  trigger: 'Trigger',
  transfer: 'Transfer',
  patchSizePct: 'Patch edge',
  surround: 'Surround',
  flashLimitLifted: 'Flash limit',
}

type TextField = Exclude<PlanField, 'trigger' | 'transfer' | 'flashLimitLifted'>

export function PlanCard(props: PlanCardProps) {
  const { draft, onDraft, reading, check, simulated } = props
  const [lifting, setLifting] = useState(false)
  const text = (field: TextField, unit?: string, hint?: string) => (
    <TextInput
      label={FIELD_NAMES[field]}
      {...(unit === undefined ? {} : { unit })}
      {...(hint === undefined ? {} : { hint })}
      inputMode={field === 'setting' || field === 'levels' ? 'text' : 'decimal'}
      value={draft[field]}
      onChange={(value) => onDraft({ ...draft, [field]: value })}
      error={reading.errors[field]}
    />
  )
  const preset = presetOf(draft.levels)
  return (
    <Card title="Plan of the next sweep">
      {props.destination}
      <FieldRow>
        {simulated ? (
          <SelectInput
            label={FIELD_NAMES.setting}
            value={SIM_SETTINGS.some((known) => known === draft.setting) ? draft.setting : null}
            onChange={(setting) => onDraft({ ...draft, setting })}
            choices={SIM_SETTINGS.map((id) => ({ id, label: id }))}
            error={reading.errors.setting}
          />
        ) : (
          text('setting', undefined, settingHint(draft.setting, props.earlierSettings))
        )}
        {text('refreshHz', 'Hz')}
      </FieldRow>
      <FieldRow lead>
        <SelectInput<LevelPreset | 'own'>
          label="Level list"
          value={preset ?? 'own'}
          onChange={(id) => {
            if (id !== 'own') onDraft({ ...draft, levels: LEVEL_PRESETS[id].join(', ') })
          }}
          choices={[
            ...(Object.keys(LEVEL_PRESETS) as LevelPreset[]).map((id) => ({
              id,
              label: id,
              ...(id.endsWith('L*') ? { note: 'Taken as an sRGB display; the ladder shows what it is.' } : {}),
            })),
            ...(preset === null ? [{ id: 'own' as const, label: 'own list' }] : []),
          ]}
        />
        {text('repeats', 'per pair')}
      </FieldRow>
      {text('levels', 'codes 0–255')}
      <Section title="Windows and spacing" errors={reading.errors} fields={['preMs', 'postMs', 'spacingMs']}>
        <FieldRow>
          {text('preMs', 'ms')}
          {text('postMs', 'ms')}
        </FieldRow>
        {text('spacingMs', 'ms', 'Least time between two level changes.')}
        {draft.flashLimitLifted ? (
          <div className="problem">
            <strong>The flash limit is lifted for this plan.</strong>
            <Action size="small" onPress={() => onDraft({ ...draft, flashLimitLifted: false })}>
              Put the limit back
            </Action>
          </div>
        ) : (
          <Action tone="quiet" size="small" onPress={() => setLifting(true)}>
            Lift the limit of three changes a second…
          </Action>
        )}
      </Section>
      <Section title="Digitizer" errors={reading.errors} fields={['sampleRateKhz', 'rangeV', 'trigger', 'transfer']}>
        <FieldRow>
          {text('sampleRateKhz', 'kS/s')}
          {text('rangeV', 'V full scale')}
        </FieldRow>
        <FieldRow>
          <SelectInput
            label={FIELD_NAMES.trigger}
            value={draft.trigger}
            onChange={(trigger) => onDraft({ ...draft, trigger })}
            choices={[
              { id: 'level', label: 'On the light edge', note: 'The rig waits for the light to change.' },
              { id: 'bus', label: 'At once', note: 'Records a longer span and finds the edge in it.' },
            ]}
          />
          <SelectInput
            label={FIELD_NAMES.transfer}
            value={draft.transfer}
            onChange={(transfer) => onDraft({ ...draft, transfer })}
            choices={[
              { id: 'int16', label: '16-bit codes', note: '2 bytes a sample' },
              { id: 'real32', label: '32-bit volts', note: '4 bytes a sample' },
            ]}
          />
        </FieldRow>
      </Section>
      <Section
        title="Patch, ladder, retakes"
        errors={reading.errors}
        fields={['patchSizePct', 'surround', 'ladderSettleMs', 'ladderMs', 'maxAttempts', 'seed']}
      >
        <FieldRow>
          {text('patchSizePct', '% of height')}
          {text('surround', 'code')}
        </FieldRow>
        <FieldRow>
          {text('ladderSettleMs', 'ms')}
          {text('ladderMs', 'ms')}
        </FieldRow>
        <FieldRow>
          {text('maxAttempts', 'per capture')}
          {text('seed', 'walk order')}
        </FieldRow>
      </Section>
      <Reminders />
      <footer className="plan-foot">
        <Cost check={check} reading={reading} />
        {props.blockers.length === 0 ? null : (
          <ul className="blockers" aria-label="What is missing before a sweep can start">
            {props.blockers.map((blocker) => (
              <li key={blocker}>{blocker}</li>
            ))}
          </ul>
        )}
        <Action tone="main" size="large" isDisabled={!props.startable} isPending={props.busy} onPress={props.onStart}>
          Start sweep
        </Action>
      </footer>
      <LiftFlashLimit
        isOpen={lifting}
        onClose={() => setLifting(false)}
        onLift={() => {
          setLifting(false)
          onDraft({ ...draft, flashLimitLifted: true })
        }}
      />
    </Card>
  )
}

/** A new name for a setting is a new row of every table: said before it is measured. */
function settingHint(setting: string, earlier: readonly string[]): string {
  if (earlier.length === 0) return 'As in the display’s menu'
  return earlier.includes(setting.trim()) ? 'As in earlier sweeps' : `New here; so far: ${earlier.join(', ')}`
}

function Section(props: {
  title: string
  fields: readonly PlanField[]
  errors: PlanReading['errors']
  children: ReactNode
}) {
  const wrong = props.fields.filter((field) => props.errors[field] !== undefined)
  const [open, setOpen] = useState(false)
  return (
    // A section with a mistake in it cannot be closed over the mistake.
    <Disclosure className="disclosure" isExpanded={open || wrong.length > 0} onExpandedChange={setOpen}>
      <Heading level={3} className="disclosure-head">
        <Button slot="trigger" className="disclosure-button">
          <span aria-hidden="true" className="disclosure-arrow" />
          {props.title}
        </Button>
      </Heading>
      <DisclosurePanel className="disclosure-panel stack">{props.children}</DisclosurePanel>
    </Disclosure>
  )
}

function Cost({ check, reading }: { check: PlanCheck | null; reading: PlanReading }) {
  const wrong = (Object.keys(reading.errors) as PlanField[]).map((field) => FIELD_NAMES[field])
  if (wrong.length > 0)
    return (
      <p className="problem" role="status">
        To be corrected: {wrong.join(', ')}.
      </p>
    )
  if (check === null) return <p className="hint">Checking the plan…</p>
  return (
    <div role="status" aria-label="What this plan costs">
      {check.problems.length > 0 ? (
        <ul className="problem">
          {check.problems.map((problem) => (
            <li key={problem}>{problem}</li>
          ))}
        </ul>
      ) : (
        <dl className="cost">
          <div>
            <dt>Transitions</dt>
            <dd>{count(check.transitions)}</dd>
          </div>
          <div>
            <dt>Captures</dt>
            <dd>{count(check.captures)}</dd>
          </div>
          <div>
            <dt>Takes about</dt>
            <dd>{duration(check.estimatedS)}</dd>
          </div>
          <div>
            <dt>Stored</dt>
            <dd title={`${plural(check.samplesPerCapture, 'sample')} a capture`}>
              {bytes(check.bytesPerCapture * check.captures)}
            </dd>
          </div>
        </dl>
      )}
    </div>
  )
}
