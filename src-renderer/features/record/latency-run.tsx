import { useState } from 'react'
import { useHostState } from '../../client/host.tsx'
import { JobBar } from '../../parts/job-progress.tsx'
import { Action } from '../../ui/controls.tsx'
import { LatencyForm } from './latency-form.tsx'

/** Starts a run of input events, and shows the runs under way. */
export function MeasureLatency({ campaignId }: { campaignId: number }) {
  const [asking, setAsking] = useState(false)
  const jobs = useHostState((state) => state.jobs)
  const own = jobs.filter(({ kind }) => kind === 'latency').slice(-1)
  const running = own.some(({ state }) => state === 'running')
  return (
    <div className="latency-run">
      <Action size="small" isDisabled={running} onPress={() => setAsking(true)}>
        Measure input latency…
      </Action>
      {own.map((job) => (
        <div key={job.id}>
          <JobBar job={job} cancelLabel="End here" />
          {job.problem === '' || job.state === 'running' ? null : <p className="hint">{job.problem}</p>}
        </div>
      ))}
      {asking ? <LatencyForm campaignId={campaignId} onClose={() => setAsking(false)} /> : null}
    </div>
  )
}
