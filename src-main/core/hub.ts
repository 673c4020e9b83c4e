import type { JobProgress } from '#shared/domain/job.ts'
import type { HostEvent, HostState } from '#shared/domain/views.ts'
import type { Log, Rig, Stimulus, Store } from './ports.ts'

/** One snapshot of what the host is doing, and the announcements of its changes. Announcements never steer anything. */
export interface Hub {
  state(): HostState
  patch(change: Partial<HostState>): void
  emit(event: HostEvent): void
  watch(listener: (event: HostEvent) => void): () => void
  /** Writes to the archive's event log and announces the entry; a failing archive must not stop what it reports on. */
  note(level: 'info' | 'warn' | 'error', text: string, sweepId?: number | null): Promise<void>
  job(progress: JobProgress): void
  close(): void
}

const FINISHED_JOBS_KEPT = 20

export function createHub(deps: {
  rig: Rig
  stimulus: Stimulus
  store: Store
  log: Log
  recipeHash: string
  recipeHashBefore: string | null
  warningAcknowledged: boolean
}): Hub {
  const listeners = new Set<(event: HostEvent) => void>()
  let state: HostState = {
    rig: deps.rig.state(),
    stimulus: deps.stimulus.state(),
    sweep: null,
    run: null,
    guided: null,
    jobs: [],
    recipeHash: deps.recipeHash,
    recipeHashBefore: deps.recipeHashBefore,
    monitoring: false,
    warningAcknowledged: deps.warningAcknowledged,
  }
  const emit = (event: HostEvent): void => listeners.forEach((listener) => listener(event))
  const patch = (change: Partial<HostState>): void => {
    state = { ...state, ...change }
    emit({ kind: 'state', state })
  }
  const releases = [deps.rig.onState((rig) => patch({ rig })), deps.stimulus.onState((stimulus) => patch({ stimulus }))]
  return {
    state: () => state,
    patch,
    emit,
    watch(listener) {
      listeners.add(listener)
      return () => listeners.delete(listener)
    },
    async note(level, text, sweepId = null) {
      deps.log[level](text, sweepId === null ? undefined : { sweepId })
      try {
        emit({ kind: 'log', entry: await deps.store.log({ sweepId, level, text }) })
      } catch (error) {
        deps.log.error('The event log could not be written.', { error: String(error) })
      }
    },
    job(progress) {
      const others = state.jobs.filter((job) => job.id !== progress.id)
      patch({ jobs: [...others, progress].slice(-FINISHED_JOBS_KEPT) })
    },
    close() {
      for (const release of releases) release()
      listeners.clear()
    },
  }
}
