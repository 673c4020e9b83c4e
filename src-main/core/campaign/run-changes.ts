/** What a person changes in a planned run: sweeps left out, taken after all, taken again, and the earlier ones brought back. */
import type { Origin, Sweep } from '#shared/domain/capture.ts'
import { AppError } from '#shared/domain/errors.ts'
import { hertz } from '#shared/domain/quantity-text.ts'
import { isDue, type Run } from '#shared/domain/run.ts'
import type { Hub } from '../hub.ts'
import type { Store } from '../ports.ts'

export const SKIPPED = 'Skipped by the operator.'
const AGAIN = 'There are sweeps to take.'

export interface RunChange {
  readonly runId: number
  readonly sweepId: number
}

export interface RunChanges {
  /** Leaves out a sweep that is due or at work; what it has is kept. */
  skip(change: RunChange): Promise<void>
  /** A skipped sweep is due again; it goes on with what it lacks. */
  unskip(change: RunChange): Promise<void>
  /** A sweep that has captures is taken anew; the earlier one is hidden and kept. Answers with the new one. */
  retake(change: RunChange): Promise<Sweep>
  /** A hidden sweep stands in its place again; the one that stood there is hidden and kept. */
  restore(change: RunChange): Promise<void>
}

export const nameOf = ({ setting, refreshHz }: { setting: string; refreshHz: number }): string =>
  `${setting} at ${hertz(refreshHz)} Hz`

export const sweepsOf = async (store: Store, runId: number): Promise<Sweep[]> => {
  const { sweepIds } = await store.run({ runId })
  return Promise.all(sweepIds.map((sweepId) => store.sweep({ sweepId })))
}

export function createRunChanges(deps: {
  readonly store: Store
  readonly hub: Hub
  readonly rigOf: () => { readonly origin: Origin; readonly rigIdentity: string }
  /** The run at work and its sweep; null while there is none. */
  readonly atWork: () => { readonly runId: number; readonly sweepId: number | null } | null
  /** Ends the sweep at work, so that the run goes on without it. */
  readonly leaveAtWork: (sweepId: number) => Promise<void>
  /** The run at work has other sweeps before it than it thought. */
  readonly changed: (runId: number) => Promise<void>
}): RunChanges {
  const { store, hub } = deps

  const isAtWork = ({ runId, sweepId }: RunChange): boolean => {
    const at = deps.atWork()
    return at?.runId === runId && at.sweepId === sweepId
  }

  async function sweepOf({ runId, sweepId }: RunChange): Promise<Sweep> {
    const sweep = await store.sweep({ sweepId })
    if (sweep.runId !== runId) throw new AppError('not-found', `Sweep ${sweepId} is not part of run ${runId}.`)
    return sweep
  }

  function refuseAtWork(change: RunChange): void {
    if (isAtWork(change))
      throw new AppError('conflict', 'This sweep is being taken.', 'Skip it or pause the run first.')
  }

  /** A run that rests is finished when nothing is due, and waits again when something is. */
  async function settle(runId: number, text: string, sweepId: number): Promise<void> {
    await hub.note('info', text, sweepId)
    if (deps.atWork()?.runId === runId) await deps.changed(runId)
    else {
      const state: Run['state'] = (await store.run({ runId })).state
      const due = (await sweepsOf(store, runId)).some(isDue)
      if (due && state === 'finished') await store.setRunState({ runId, state: 'paused', reason: AGAIN })
      if (!due && state !== 'finished') await store.setRunState({ runId, state: 'finished', reason: '' })
    }
    hub.emit({ kind: 'changed', what: 'sweeps' })
    hub.emit({ kind: 'changed', what: 'results' })
  }

  return {
    async skip(change) {
      const sweep = await sweepOf(change)
      if (isAtWork(change)) return deps.leaveAtWork(change.sweepId)
      if (!isDue(sweep) || sweep.hidden)
        throw new AppError('conflict', 'This sweep is not due.', 'There is nothing to skip.')
      await store.setSweepState(sweep.id, 'stopped', SKIPPED)
      await settle(change.runId, `${nameOf(sweep)} is skipped.`, sweep.id)
    },
    async unskip(change) {
      const sweep = await sweepOf(change)
      refuseAtWork(change)
      if (sweep.state !== 'stopped' || sweep.hidden)
        throw new AppError('conflict', 'This sweep is not skipped.', 'A sweep that has captures can be taken again.')
      await store.setSweepState(sweep.id, sweep.done > 0 ? 'paused' : 'ready', '')
      await settle(change.runId, `${nameOf(sweep)} is to be taken after all.`, sweep.id)
    },
    async retake(change) {
      const sweep = await sweepOf(change)
      refuseAtWork(change)
      if (sweep.hidden || sweep.done + sweep.missing === 0)
        throw new AppError('conflict', 'This sweep has no captures that could be taken again.', 'Choose one that has.')
      const made = await store.retakeSweep({ sweepId: sweep.id, rigIdentity: rigIdentity(sweep) })
      await settle(
        change.runId,
        `${nameOf(sweep)} is to be taken again; sweep ${sweep.id} is hidden and kept.`,
        made.id,
      )
      return made
    },
    async restore(change) {
      const sweep = await sweepOf(change)
      if (!sweep.hidden) throw new AppError('conflict', 'This sweep is not hidden.', 'There is nothing to bring back.')
      const standing = (await sweepsOf(store, change.runId)).find(
        ({ setting, refreshHz }) => setting === sweep.setting && refreshHz === sweep.refreshHz,
      )
      if (standing !== undefined) refuseAtWork({ runId: change.runId, sweepId: standing.id })
      await store.restoreSweep({ sweepId: sweep.id })
      await settle(change.runId, `Sweep ${sweep.id}, ${nameOf(sweep)}, stands again.`, sweep.id)
    },
  }

  /** Of the rig that is connected; without one, that of the sweep before. */
  function rigIdentity(before: Sweep): string {
    try {
      return deps.rigOf().rigIdentity
    } catch {
      return before.rigIdentity
    }
  }
}
