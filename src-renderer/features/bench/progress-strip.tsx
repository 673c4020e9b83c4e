import { useEffect, useState } from 'react'
import { ProgressBar } from 'react-aria-components'
import type { Sweep } from '#shared/domain/capture.ts'
import type { SweepProgress } from '#shared/domain/views.ts'
import { useHost } from '../../client/host.tsx'
import { Action, StatusDot } from '../../ui/controls.tsx'
import { duration, hertz, pair, plural } from '../../ui/format.ts'
import { canStart, isActive, SWEEP_STATE_WORDS } from '../../ui/words.ts'

export interface ProgressStripProps {
  readonly setUpOpen: boolean
  readonly onSetUp: (open: boolean) => void
  readonly sweep: Sweep | null
  /** Of the sweep in view, when the host is or was busy with it. */
  readonly progress: SweepProgress | null
  readonly busy: boolean
  /** Why the next sweep cannot start; empty when it can. */
  readonly blockers: readonly string[]
  /** Captures of this sweep that people sent back and that can be taken again. */
  readonly retakes: number
  readonly onStartNew: () => void
  readonly onResume: (sweepId: number) => void
  readonly onPause: (sweepId: number) => void
  readonly onStop: (sweepId: number) => void
}

const TONES = {
  ready: 'idle',
  ladder: 'good',
  running: 'good',
  paused: 'warn',
  finished: 'good',
  stopped: 'idle',
  failed: 'bad',
} as const

export function ProgressStrip(props: ProgressStripProps) {
  const { sweep, progress } = props
  const heard = useHost((snapshot) => snapshot.link === 'open')
  const toggle = (
    <Action tone="quiet" size="small" onPress={() => props.onSetUp(!props.setUpOpen)}>
      {props.setUpOpen ? '◂ Hide set-up' : '▸ Show set-up'}
    </Action>
  )
  if (sweep === null) {
    return (
      <section className="progress-strip" aria-label="Progress">
        <div className="progress-idle">
          <div className="progress-head">
            {toggle}
            <strong>No sweep in view</strong>
          </div>
          <span>
            {props.blockers[0] ?? 'The plan is ready. Start the sweep, or choose an earlier one in the set-up.'}
          </span>
        </div>
        <Action
          tone="main"
          size="large"
          isDisabled={props.blockers.length > 0}
          isPending={props.busy}
          onPress={props.onStartNew}
        >
          Start sweep
        </Action>
      </section>
    )
  }
  const state = progress?.state ?? sweep.state
  const total = progress?.total ?? sweep.total
  const done = progress?.done ?? sweep.done
  const missing = progress?.missing ?? sweep.missing
  const reason = progress?.reason ?? sweep.reason
  return (
    <section className="progress-strip" aria-label="Progress">
      <div className="progress-head">
        {toggle}
        <StatusDot tone={heard ? TONES[state] : 'warn'}>
          {SWEEP_STATE_WORDS[state]}
          {heard ? '' : ' when last heard'}
        </StatusDot>
        <span className="progress-plan">
          Sweep {sweep.id}: {sweep.plan.setting}, {hertz(sweep.plan.refreshHz)} Hz
        </span>
        {reason === '' ? null : <span className="progress-reason">{reason}</span>}
      </div>
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
      <div className="progress-numbers">
        <Figure label="Captures" value={`${done} / ${total}`} wide />
        <Figure label="Missing" value={String(missing)} tone={missing > 0 ? 'bad' : ''} />
        {progress === null ? null : (
          <>
            <Figure label="Retakes" value={String(progress.retakes)} tone={progress.retakes > 0 ? 'warn' : ''} />
            <Times progress={progress} />
            <Figure
              label={
                progress.current === null
                  ? 'Now'
                  : `Repeat ${progress.current.repeat}, attempt ${progress.current.attempt}`
              }
              value={progress.current === null ? '—' : pair(progress.current.from, progress.current.to)}
              wide
            />
          </>
        )}
      </div>
      <div className="progress-actions">
        {isActive(state) ? (
          <Action size="large" isDisabled={!heard} isPending={props.busy} onPress={() => props.onPause(sweep.id)}>
            Pause
          </Action>
        ) : null}
        {canStart(state) && sweep.origin !== 'imported' ? (
          <Action
            tone="main"
            size="large"
            isDisabled={!heard}
            isPending={props.busy}
            onPress={() => props.onResume(sweep.id)}
          >
            {state === 'ready' ? 'Start' : 'Resume'}
          </Action>
        ) : null}
        {isActive(state) || state === 'paused' ? (
          <Action tone="danger" size="large" isDisabled={!heard} onPress={() => props.onStop(sweep.id)}>
            Stop
          </Action>
        ) : null}
        {state === 'finished' && props.retakes > 0 ? (
          <Action
            tone="main"
            size="large"
            isDisabled={!heard}
            isPending={props.busy}
            onPress={() => props.onResume(sweep.id)}
          >
            Run {plural(props.retakes, 'retake')}
          </Action>
        ) : null}
        {state === 'finished' || state === 'stopped' ? (
          <Action
            tone={state === 'finished' && props.retakes === 0 ? 'main' : 'plain'}
            size="large"
            isDisabled={props.blockers.length > 0}
            isPending={props.busy}
            onPress={props.onStartNew}
          >
            Start next sweep
          </Action>
        ) : null}
      </div>
    </section>
  )
}

/** Elapsed and remaining time, carried on between the host's reports while the sweep runs. */
function Times({ progress }: { progress: SweepProgress }) {
  const stateAt = useHost((snapshot) => snapshot.stateAt)
  const link = useHost((snapshot) => snapshot.link)
  const [now, setNow] = useState(() => Date.now())
  const ticking = isActive(progress.state) && link === 'open'
  useEffect(() => {
    if (!ticking) return undefined
    // Every report brings the times itself; the clock is needed only where none comes for a second.
    const timer = setInterval(() => setNow(Math.max(stateAt, Date.now())), 1000)
    return () => clearInterval(timer)
  }, [ticking, stateAt])
  const since = ticking ? Math.max(0, (now - stateAt) / 1000) : 0
  return (
    <>
      <Figure label="Elapsed" value={duration(progress.elapsedS + since)} />
      <Figure label="Left" value={progress.leftS === null ? '—' : duration(Math.max(0, progress.leftS - since))} />
    </>
  )
}

function Figure(props: { label: string; value: string; tone?: 'bad' | 'warn' | ''; wide?: boolean }) {
  return (
    <div className={`figure ${props.wide === true ? 'figure-wide' : ''}`}>
      <span className="figure-label">{props.label}</span>
      <span className={`figure-value ${props.tone ? `${props.tone}-text` : ''}`}>{props.value}</span>
    </div>
  )
}
