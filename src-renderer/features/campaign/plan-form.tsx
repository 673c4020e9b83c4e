import { type CampaignPlan, visitsOf } from '#shared/domain/campaign-plan.ts'
import { LEVEL_PRESETS } from '#shared/domain/plan.ts'
import { hertz } from '#shared/domain/quantity-text.ts'
import { SelectInput, TextInput } from '../../ui/fields.tsx'
import { plural } from '../../ui/format.ts'
import { type CampaignDraft, type LevelPreset, readDraft } from './campaign-draft.ts'

/** Settings, refresh rates and what each sweep does; checked as it is typed. */
export function PlanForm({
  draft,
  onChange,
}: {
  readonly draft: CampaignDraft
  readonly onChange: (draft: CampaignDraft) => void
}) {
  const { plan, problems } = readDraft(draft)
  const set = (change: Partial<CampaignDraft>) => onChange({ ...draft, ...change })
  return (
    <div className="campaign-form">
      <TextInput
        label="Overdrive settings"
        hint="As the display’s menu calls them, separated by commas."
        value={draft.settings}
        error={problems.settings}
        onChange={(settings) => set({ settings, leaveOut: [] })}
      />
      <TextInput
        label="Refresh rates"
        unit="Hz"
        hint="Separated by commas; use a decimal point."
        value={draft.refreshHz}
        error={problems.refreshHz}
        onChange={(refreshHz) => set({ refreshHz, leaveOut: [] })}
      />
      <SelectInput
        label="Levels"
        value={draft.preset}
        choices={(Object.keys(LEVEL_PRESETS) as LevelPreset[]).map((id) => ({
          id,
          label: id,
          note: LEVEL_PRESETS[id].join(' '),
        }))}
        onChange={(preset) => set({ preset })}
      />
      <TextInput
        label="Captures of each transition"
        inputMode="numeric"
        value={draft.repeats}
        error={problems.repeats}
        onChange={(repeats) => set({ repeats })}
      />
      <TextInput
        label="Warm up until white drifts under"
        unit="%/min"
        hint="Empty: no warm-up. 0.1 is strict, 0.5 lenient; neither is from a standard."
        inputMode="decimal"
        value={draft.warmUpDrift}
        error={problems.warmUpDrift}
        onChange={(warmUpDrift) => set({ warmUpDrift })}
      />
      {plan === null ? null : <PlanGrid plan={plan} draft={draft} onChange={onChange} />}
      {problems.leaveOut === undefined ? null : <p className="field-error">{problems.leaveOut}</p>}
    </div>
  )
}

function PlanGrid({
  plan,
  draft,
  onChange,
}: {
  readonly plan: CampaignPlan
  readonly draft: CampaignDraft
  readonly onChange: (draft: CampaignDraft) => void
}) {
  const rates = [...plan.refreshHz].sort((a, b) => a - b)
  const order = visitsOf(plan)
  return (
    <>
      <table className="campaign-grid">
        <caption>
          {plural(order.length, 'sweep')}, numbered in the order they are taken. Click one to leave it out.
        </caption>
        <thead>
          <tr>
            <th scope="col">Setting</th>
            {rates.map((hz) => (
              <th key={hz} scope="col">
                {hertz(hz)} Hz
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {plan.settings.map((setting) => (
            <tr key={setting}>
              <th scope="row">{setting}</th>
              {rates.map((refreshHz) => {
                const at = order.findIndex((visit) => visit.setting === setting && visit.refreshHz === refreshHz)
                const others = draft.leaveOut.filter(
                  (visit) => !(visit.setting === setting && visit.refreshHz === refreshHz),
                )
                return (
                  <td key={refreshHz}>
                    <button
                      type="button"
                      className="campaign-cell"
                      aria-pressed={at !== -1}
                      aria-label={`${at === -1 ? '–' : at + 1} ${setting} at ${hertz(refreshHz)} Hz`}
                      onClick={() =>
                        onChange({ ...draft, leaveOut: at === -1 ? others : [...others, { setting, refreshHz }] })
                      }
                    >
                      {at === -1 ? '–' : at + 1}
                    </button>
                  </td>
                )
              })}
            </tr>
          ))}
        </tbody>
      </table>
      <p className="hint">
        Each setting is set only once. When it changes, the refresh rate stays, so that a forgotten change shows.
      </p>
    </>
  )
}
