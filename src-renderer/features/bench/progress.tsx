import { useEffect, useState } from 'react'
import { ProgressBar } from 'react-aria-components'
import type { Sweep } from '#shared/domain/capture.ts'
import type { SweepProgress } from '#shared/domain/views.ts'
import { useHost } from '../../client/host.tsx'
import { duration } from '#shared/domain/quantity-text.ts'
import { plural } from '../../ui/format.ts'
import { isActive } from '../../ui/words.ts'

/** How far a sweep is: captures, what is missing or retaken, and the time left while it runs. */
export function Progress({ sweep, progress }: { sweep: Sweep; progress: SweepProgress | null }) {
  const total = progress?.total ?? sweep.total
  const done = progress?.done ?? sweep.done
  const missing = progress?.missing ?? sweep.missing
  const retakes = progress?.retakes ?? 0
  return (
    <>
      <ProgressBar
        className="progress-bar"
        aria-label="Captures done"
        value={done}
        maxValue={Math.max(1, total)}
        valueLabel={`${done} of ${plural(total, 'capture')}`}
      >
        <div className="progress-track">
          <div className="progress-fill" style={{ width: `${(100 * done) / Math.max(1, total)}%` }} />
        </div>
      </ProgressBar>
      <strong className="progress-count">
        {done} / {total}
      </strong>
      {progress !== null && isActive(progress.state) ? <Times progress={progress} /> : null}
      {missing > 0 ? <span className="bad-text">{missing} missing</span> : null}
      {retakes > 0 ? <span className="warn-text">{plural(retakes, 'retake')}</span> : null}
    </>
  )
}

/** Elapsed and remaining time, carried on between the host's reports while the sweep runs. */
function Times({ progress }: { progress: SweepProgress }) {
  const stateAt = useHost((snapshot) => snapshot.stateAt)
  const link = useHost((snapshot) => snapshot.link)
  const [now, setNow] = useState(() => Date.now())
  const ticking = link === 'open'
  useEffect(() => {
    if (!ticking) return undefined
    // Every report brings the times itself; the clock is needed only where none comes for a second.
    const timer = setInterval(() => setNow(Math.max(stateAt, Date.now())), 1000)
    return () => clearInterval(timer)
  }, [ticking, stateAt])
  const since = ticking ? Math.max(0, (now - stateAt) / 1000) : 0
  return (
    <span className="progress-times">
      <span>
        <span className="minor">Left</span>{' '}
        {progress.leftS === null ? '—' : duration(Math.max(0, progress.leftS - since))}
      </span>
      <span>
        <span className="minor">Elapsed</span> {duration(progress.elapsedS + since)}
      </span>
    </span>
  )
}
