import { useState } from 'react'
import type { Origin } from '#shared/domain/capture.ts'
import {
  displayKey,
  fileNameOf,
  type Library,
  type LibraryArchive,
  type LibraryCampaign,
  type LibraryDisplay,
} from '#shared/findings/campaign/library.ts'
import { useHostState } from '../../client/host.tsx'
import { useCommand } from '../../client/use-command.ts'
import { JobBar } from '../../parts/job-progress.tsx'
import { Action, StatusDot } from '../../ui/controls.tsx'
import { FieldRow, SelectInput, SwitchInput, TextInput } from '../../ui/fields.tsx'
import { plural } from '../../ui/format.ts'

interface Choosing {
  readonly displays: readonly LibraryDisplay[]
  readonly recipeHash: string
  /** Keys of displays that are not compared. */
  readonly aside: readonly string[]
  readonly onAside: (key: string, isAside: boolean) => void
}

/** Archives opened together, only to read: what each holds, and how more are added. */
export function LibraryList({ library, ...choosing }: Choosing & { readonly library: Library }) {
  const jobs = useHostState((state) => state.jobs).filter(
    ({ kind, state, label }) =>
      kind === 'reanalyse' &&
      state === 'running' &&
      library.archives.some(({ name, isOpen }) => !isOpen && label.startsWith(`Measuring ${name} `)),
  )
  return (
    <section aria-label="Library" className="library">
      <h3>Library</h3>
      <p className="hint">Other archives are opened only to read; nothing in them changes.</p>
      <ul className="library-archives">
        {library.archives.map((archive) => (
          <Archive key={archive.path} archive={archive} {...choosing} />
        ))}
      </ul>
      {jobs.map((job) => (
        <JobBar key={job.id} job={job} />
      ))}
      <AddArchive library={library} />
    </section>
  )
}

function Archive({ archive, recipeHash, ...choosing }: Choosing & { readonly archive: LibraryArchive }) {
  const { path, name, isOpen, problem, campaigns } = archive
  const remove = useCommand(`${name} could not be taken out of the library`, (client) =>
    client.library.remove({ path }),
  )
  const measure = useCommand(`${name} could not be measured`, (client) => client.library.measure({ path, recipeHash }))
  const unmeasured = campaigns.reduce((sum, campaign) => sum + campaign.unmeasured, 0)
  return (
    <li className="library-archive">
      <div className="library-archive-head">
        <strong>{isOpen ? 'This archive' : name}</strong>
        {isOpen ? null : <span className="hint library-path">{path}</span>}
        {isOpen ? null : (
          <Action size="small" tone="quiet" isPending={remove.busy} onPress={() => void remove.run()}>
            Remove<span className="visually-hidden"> {name}</span>
          </Action>
        )}
      </div>
      {problem === null ? null : (
        <p className="library-problem">
          {problem.message} {problem.remedy}
        </p>
      )}
      {problem === null && campaigns.length === 0 ? <p className="hint">No campaign in it.</p> : null}
      <ul className="library-campaigns">
        {campaigns.map((campaign) => (
          <CampaignRow key={campaign.id} archive={archive} campaign={campaign} {...choosing} />
        ))}
      </ul>
      {unmeasured === 0 || isOpen ? null : (
        <p>
          {plural(unmeasured, 'capture has', 'captures have')} no result under the recipe in use.{' '}
          <Action size="small" isPending={measure.busy} onPress={() => void measure.run()}>
            Measure them on a copy
          </Action>
        </p>
      )}
      {unmeasured > 0 && isOpen ? (
        <p>
          {plural(unmeasured, 'capture has', 'captures have')} no result under the recipe in use.{' '}
          <a href="#/recipes">Measure them</a>
        </p>
      ) : null}
    </li>
  )
}

const MARKS: Readonly<Record<Origin, { readonly tone: 'warn' | 'good'; readonly words: string }>> = {
  simulated: { tone: 'warn', words: 'simulated' },
  measured: { tone: 'good', words: 'measured' },
  imported: { tone: 'good', words: 'measured, imported' },
}

function CampaignRow(
  props: Omit<Choosing, 'recipeHash'> & { readonly archive: LibraryArchive; readonly campaign: LibraryCampaign },
) {
  const { archive, campaign, displays, aside, onAside } = props
  const key = displayKey(archive, campaign)
  const display = displays.find((one) => one.key === key)
  const mark = campaign.origin === null ? null : MARKS[campaign.origin]
  const called = campaign.display === '' || campaign.display === campaign.name ? '' : `, campaign ${campaign.name}`
  return (
    <li className="library-campaign">
      {display === undefined ? (
        <span>{campaign.display || campaign.name}</span>
      ) : (
        <SwitchInput label={display.data.name} isSelected={!aside.includes(key)} onChange={(on) => onAside(key, !on)} />
      )}
      <span className="hint">{called.replace(/^, /, '')}</span>
      {mark === null ? <span className="hint">no data yet</span> : <StatusDot tone={mark.tone}>{mark.words}</StatusDot>}
      {mark !== null && display === undefined ? <span className="hint">no results under the recipe in use</span> : null}
    </li>
  )
}

function AddArchive({ library: { known, adding } }: { readonly library: Library }) {
  const [typed, setTyped] = useState('')
  const [picked, setPicked] = useState<string | null>(null)
  const add = useCommand('The archive could not be added', (client, path: string) => client.library.add({ path }))
  const choose = useCommand('The archives could not be added', (client) => client.library.choose())
  const addTyped = async (): Promise<void> => {
    if ((await add.run(typed.trim())) !== null) setTyped('')
  }
  const chosen = known.find((path) => path === picked) ?? known[0] ?? null
  return (
    <div className="library-add">
      {chosen === null ? null : (
        <FieldRow>
          <SelectInput
            label="Archives found"
            value={chosen}
            choices={known.map((path) => ({ id: path, label: fileNameOf(path), note: path }))}
            onChange={setPicked}
          />
          <Action isPending={add.busy} onPress={() => void add.run(chosen)}>
            Add
          </Action>
        </FieldRow>
      )}
      {adding === 'dialog' ? (
        <Action isPending={choose.busy} onPress={() => void choose.run()}>
          Add archives…
        </Action>
      ) : (
        <FieldRow>
          <TextInput
            label="Path of an archive on this machine"
            value={typed}
            onChange={setTyped}
            placeholder="/home/…/display.sqlite"
            maxLength={4096}
          />
          <Action isPending={add.busy} isDisabled={typed.trim() === ''} onPress={() => void addTyped()}>
            Add archive
          </Action>
        </FieldRow>
      )}
    </div>
  )
}
