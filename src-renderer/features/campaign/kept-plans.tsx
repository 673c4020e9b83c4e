import { useState } from 'react'
import { FileTrigger } from 'react-aria-components'
import { fileProblems } from '#shared/domain/file-problems.ts'
import { type CampaignPlan, planOfFile, type PlanTemplate } from '#shared/domain/campaign-plan.ts'
import { saveText } from '../../client/download.ts'
import { useHostQuery } from '../../client/queries.ts'
import { useCommand } from '../../client/use-command.ts'
import { Action } from '../../ui/controls.tsx'
import { SelectInput, TextInput } from '../../ui/fields.tsx'
import { type CampaignDraft, draftOf } from './campaign-draft.ts'

/** Plans under a name, and as files that `slewlight campaign-run` reads too. */
export function KeptPlans(props: {
  /** What the form holds; null while it is no plan. */
  readonly plan: CampaignPlan | null
  readonly onLoad: (draft: CampaignDraft) => void
}) {
  const { plan, onLoad } = props
  const kept = useHostQuery(['sweeps', 'templates'], (client, signal) => client.runs.templates(undefined, { signal }))
  const save = useCommand('Keep the plan', (client, template: PlanTemplate) => client.runs.saveTemplate(template))
  const remove = useCommand('Delete the plan', (client, name: string) => client.runs.deleteTemplate({ name }))
  const [name, setName] = useState('')
  const [chosen, setChosen] = useState<string | null>(null)
  const [told, setTold] = useState('')
  const templates = kept.data ?? []
  const load = (read: CampaignPlan): void => {
    const draft = draftOf(read)
    setTold(
      draft === null ? 'Its levels are none of those offered here; slewlight campaign-run takes it as it is.' : '',
    )
    if (draft !== null) onLoad(draft)
  }
  const readFile = async (file: File | undefined): Promise<void> => {
    if (file === undefined) return
    try {
      const parsed = planOfFile(JSON.parse(await file.text()))
      if (parsed.success) load(parsed.data)
      else setTold(`${file.name} is no plan: ${fileProblems(parsed.error)}`)
    } catch {
      setTold(`${file.name} cannot be read as JSON.`)
    }
  }
  return (
    <details className="kept-plans">
      <summary>Kept plans</summary>
      {templates.length === 0 ? (
        <p className="hint">None yet. Give the plan above a name, to use it for the next display.</p>
      ) : (
        <div className="kept-plans-row">
          <SelectInput
            label="Kept plan"
            value={chosen}
            choices={templates.map((one) => ({ id: one.name, label: one.name, note: one.plan.settings.join(', ') }))}
            onChange={(id) => {
              setChosen(id)
              const found = templates.find((one) => one.name === id)
              if (found !== undefined) load(found.plan)
            }}
          />
          <Action
            isDisabled={chosen === null}
            isPending={remove.busy}
            onPress={() => {
              if (chosen !== null) void remove.run(chosen)
              setChosen(null)
            }}
          >
            Delete
          </Action>
        </div>
      )}
      <div className="kept-plans-row">
        <TextInput label="Name of this plan" value={name} maxLength={60} onChange={setName} />
        <Action
          isDisabled={plan === null || name.trim() === ''}
          isPending={save.busy}
          onPress={() => {
            if (plan !== null) void save.run({ name: name.trim(), plan })
          }}
        >
          Keep
        </Action>
      </div>
      <div className="kept-plans-row">
        <Action
          isDisabled={plan === null}
          onPress={() =>
            saveText({ name: 'plan.json', text: `${JSON.stringify(plan, null, 2)}\n` }, 'application/json')
          }
        >
          Save as a file
        </Action>
        <FileTrigger acceptedFileTypes={['.json']} onSelect={(files) => void readFile(files?.[0])}>
          <Action>Load a file…</Action>
        </FileTrigger>
      </div>
      <p role="status" className="hint">
        {told}
      </p>
    </details>
  )
}
