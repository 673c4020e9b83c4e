import { ProgressBar } from 'react-aria-components'
import type { JobProgress } from '#shared/domain/job.ts'
import { useCommand } from '../client/use-command.ts'
import { Action } from '../ui/controls.tsx'
import { duration } from '#shared/domain/quantity-text.ts'
import { count } from '../ui/format.ts'

/** How far a job of any kind is, how long it will still take, and while it runs, how to cancel it. */
export function JobBar({ job, cancelLabel = 'Cancel' }: { job: JobProgress; cancelLabel?: string }) {
  const cancel = useCommand(`${job.label} could not be cancelled`, (client) => client.jobs.cancel({ jobId: job.id }))
  const proceed = useCommand(`${job.label} could not go on`, (client) => client.jobs.proceed({ jobId: job.id }))
  const running = job.state === 'running'
  const share = job.total === 0 ? (job.state === 'finished' ? 1 : 0) : job.done / job.total
  const far = farOf(job)
  return (
    <div className="job-bar">
      <ProgressBar
        className="job-progress"
        aria-label={job.label}
        value={Math.round(100 * share)}
        isIndeterminate={running && job.total === 0}
        valueLabel={far}
      >
        {({ percentage }) => (
          <>
            <p>
              <strong>{job.label}</strong>
              <span className="digits">
                {' '}
                {far}
                {job.leftS === null ? '' : `, ${duration(job.leftS)} left`}
              </span>
            </p>
            <div className="progress-track">
              <div className="progress-fill" style={{ width: `${percentage ?? 0}%` }} />
            </div>
          </>
        )}
      </ProgressBar>
      {job.asks === '' ? null : (
        <p className="job-asks" role="status">
          {job.asks}{' '}
          <Action size="small" tone="main" isPending={proceed.busy} onPress={() => void proceed.run()}>
            Go on
          </Action>
        </p>
      )}
      {running ? (
        <Action size="small" isPending={cancel.busy} onPress={() => void cancel.run()}>
          {cancelLabel}
        </Action>
      ) : null}
    </div>
  )
}

function farOf({ kind, state, done, total }: JobProgress): string {
  if (total > 0) return `${count(done)} of ${count(total)}${kind === 'demo' ? ' captures' : ''}`
  if (kind === 'reanalyse' && state === 'finished') return 'already measured'
  return kind === 'export' && done > 0 ? `${(done / 1e6).toFixed(1)} MB` : ''
}
