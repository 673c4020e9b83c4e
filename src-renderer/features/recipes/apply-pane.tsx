import { useState } from 'react'
import type { Campaign, Sweep } from '#shared/domain/capture.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { JobProgress } from '#shared/domain/job.ts'
import { useHostState } from '../../client/host.tsx'
import { useCommand } from '../../client/use-command.ts'
import { Action, StatusDot } from '../../ui/controls.tsx'
import { JobBar } from '../../parts/job-progress.tsx'
import { ComparePane } from './compare-pane.tsx'
import type { KnownRecipe } from './recipe-list.tsx'
import { ScopeChoice, scopeOf, type ScopeKind } from './scope-choice.tsx'

export interface ApplyPaneProps {
  readonly saved: Recipe
  readonly savedHash: string
  readonly hasUnsaved: boolean
  readonly recipes: readonly KnownRecipe[]
  readonly inUseHash: string
  readonly sweep: Sweep | null
  readonly campaigns: readonly Campaign[]
}

/** Measure everything under a saved recipe, see what it changed, and decide whether all screens use it. */
export function ApplyPane(props: ApplyPaneProps) {
  const { saved, savedHash, hasUnsaved, recipes, inUseHash, sweep, campaigns } = props
  const [scope, setScope] = useState<ScopeKind>('campaign')
  const before = useHostState((state) => state.recipeHashBefore)
  const jobs = useHostState((state) => state.jobs)
  const shown = jobs.filter(({ kind }) => kind === 'reanalyse').slice(-2)
  const running = shown.some(({ state }) => state === 'running')
  const apply = useCommand('The recipe could not be applied', (client) =>
    client.recipes.reanalyse({ recipeHash: savedHash, ...scopeOf(scope, sweep) }),
  )
  const use = useCommand('The recipe could not be used for all screens', (client, recipeHash: string) =>
    client.recipes.use({ recipeHash }),
  )
  const nameOf = (hash: string): string => recipes.find((known) => known.hash === hash)?.recipe.name ?? hash.slice(0, 8)
  return (
    <section className="apply-pane" aria-label="Apply and compare">
      {hasUnsaved ? (
        <p className="warn-text" role="status">
          ▲ Unsaved changes are not applied: “{saved.name}” is used as saved.
        </p>
      ) : null}
      <div className="pane-form">
        <ScopeChoice
          label="Apply to"
          value={sweep === null ? 'all' : scope}
          onChange={setScope}
          sweep={sweep}
          campaigns={campaigns}
        />
        <Action tone="main" isPending={apply.busy || running} onPress={() => void apply.run()}>
          Apply to all captures
        </Action>
        {savedHash === inUseHash ? (
          <StatusDot tone="good">Used by all screens</StatusDot>
        ) : (
          <Action isPending={use.busy} onPress={() => void use.run(savedHash)}>
            Use for all screens
          </Action>
        )}
        {before === null || before === savedHash ? null : (
          <Action tone="quiet" isPending={use.busy} onPress={() => void use.run(before)}>
            Switch back to “{nameOf(before)}”
          </Action>
        )}
      </div>
      {shown.map((job) => (
        <Measuring key={job.id} job={job} />
      ))}
      {sweep === null ? null : (
        <ComparePane
          key={`${sweep.id} ${savedHash}`}
          sweep={sweep}
          recipes={recipes}
          newHash={savedHash}
          firstOld={inUseHash === savedHash ? before : inUseHash}
        />
      )}
    </section>
  )
}

const JOB_TONES = { finished: 'good', cancelled: 'warn', failed: 'bad' } as const

/** A measuring in progress, or what became of it. */
function Measuring({ job }: { job: JobProgress }) {
  const { state, problem } = job
  return (
    <div className="job">
      <JobBar job={job} />
      {state === 'running' ? null : (
        <StatusDot tone={problem !== '' && state === 'finished' ? 'warn' : JOB_TONES[state]}>{state}</StatusDot>
      )}
      {state === 'cancelled' ? <p className="hint">Finished results are kept; apply again to continue.</p> : null}
      {problem === '' ? null : (
        <p className={state === 'failed' ? 'bad-text' : 'warn-text'} role="alert">
          {problem} {state === 'failed' ? 'Apply again; finished results are kept.' : ''}
        </p>
      )}
    </div>
  )
}
