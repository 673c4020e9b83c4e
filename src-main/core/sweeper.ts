/** Life of sweeps: start, pause, resume, stop; at most one runs. Everything that can go on later ends as `paused`. */
import type { Sweep, SweepState } from '#shared/domain/capture.ts'
import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import type { SweepProgress } from '#shared/domain/views.ts'
import { walkOf } from '#shared/domain/walk.ts'
import type { Hub } from './hub.ts'
import type { Losses, Lost } from './losses.ts'
import { runSweep, type RunDeps, type RunListener, type Todo } from './sweep-run.ts'
import { createTimeLeft } from './time-left.ts'
import { plural } from '#shared/domain/quantity-text.ts'

export interface Sweeper {
  /**
   * Resolves once the run has begun; rejects when it cannot begin. A lost rig is waited for, and the sweep goes on when it
   * is back, unless `onLost` is there: it is told what is gone, and the sweep rests.
   */
  start(sweepId: number, onLost?: (lost: Lost) => void): Promise<void>
  /** After the capture in hand. */
  pause(sweepId: number): Promise<void>
  /** At once; the capture in hand is dropped. */
  stop(sweepId: number): Promise<void>
  running(): boolean
  /** Resolves when nothing runs any more. */
  idle(): Promise<void>
  /** Marks sweeps that a dead process left running, so that they can be resumed. */
  recover(): Promise<void>
  close(): Promise<void>
}

interface Active {
  readonly sweep: Sweep
  readonly abort: AbortController
  ended: Promise<void>
  pausing: boolean
  /** State to end in when aborted, with its reason. */
  ending: { state: SweepState; reason: string } | null
}

export interface SweeperDeps extends RunDeps {
  readonly hub: Hub
  readonly losses: Losses
  /** Runs after a sweep came to rest: comparisons between its captures. */
  readonly afterRun: (sweepId: number) => Promise<void>
}

export function createSweeper(deps: SweeperDeps): Sweeper {
  const { store, hub, rig, clock } = deps
  let active: Active | null = null
  let waitingForRig: { sweepId: number; release: () => void } | null = null

  async function setState(sweepId: number, state: SweepState, reason: string): Promise<Sweep> {
    const sweep = await store.setSweepState(sweepId, state, reason)
    hub.emit({ kind: 'changed', what: 'sweeps' })
    return sweep
  }

  function stopWaiting(): void {
    waitingForRig?.release()
    waitingForRig = null
  }

  /** A lost rig that comes back continues the sweep its operator had started. */
  function resumeWhenRigReturns(sweepId: number): void {
    stopWaiting()
    const release = rig.onState((state) => {
      if (state.status !== 'ready' || active) return
      stopWaiting()
      hub
        .note('info', 'The rig is back; the sweep resumes.', sweepId)
        .then(() => start(sweepId))
        .catch((error: unknown) =>
          hub.note('error', `The sweep could not resume: ${toErrorDetail(error).message}`, sweepId),
        )
    })
    waitingForRig = { sweepId, release }
  }

  async function start(sweepId: number, onLost?: (lost: Lost) => void): Promise<void> {
    if (active) throw new AppError('conflict', `Sweep ${active.sweep.id} is running.`, 'Pause or stop it first.')
    if (hub.state().monitoring)
      throw new AppError('conflict', 'The monitor uses the rig.', 'Switch the monitor off first.')
    const claimed: Active = {
      sweep: await store.sweep({ sweepId }),
      abort: new AbortController(),
      ended: Promise.resolve(),
      pausing: false,
      ending: null,
    }
    if (active) throw new AppError('conflict', 'Another sweep has just been started.', 'Pause or stop it first.')
    active = claimed
    stopWaiting()
    try {
      const { sweep } = claimed
      if (sweep.origin === 'imported')
        throw new AppError('conflict', 'An imported sweep has no rig to run on.', 'Plan a new sweep.')
      rig.digitizer()
      const todo = await outstanding(sweep)
      if (todo.steps.length === 0)
        throw new AppError(
          'conflict',
          'Nothing is left to capture in this sweep.',
          'Plan a new sweep, or mark captures for retake.',
        )
      claimed.ended = run(claimed, todo, onLost)
    } catch (error) {
      active = null
      throw error
    }
  }

  /**
   * Positions without a good capture that counts, in the order of the walk; those sent back by a person are among them.
   * A finished sweep with captures to retake takes just those, and leaves what it gave up to a further start.
   */
  async function outstanding(sweep: Sweep): Promise<Todo & { good: number; left: number }> {
    const [progress, queue] = await Promise.all([store.progress(sweep.id), store.retakes({ sweepId: sweep.id })])
    const good = new Set(progress.filter((entry) => entry.good).map((entry) => entry.position))
    const attempts = new Map(progress.map((entry) => [entry.position, entry.attempts]))
    const open = walkOf(sweep.plan).filter((step) => !good.has(step.position))
    const sentBack = new Set(queue.map((entry) => entry.position))
    const retakes = open.filter((step) => sentBack.has(step.position))
    const steps = sweep.state === 'finished' && retakes.length > 0 ? retakes : open
    return { steps, attempts, retakes: sentBack, good: good.size, left: open.length - steps.length }
  }

  async function run(
    mine: Active,
    todo: Todo & { good: number; left: number },
    onLost: ((lost: Lost) => void) | undefined,
  ): Promise<void> {
    const { sweep } = mine
    const startedAt = clock.now()
    // Taken up again, a sweep's clock goes on; what passed before the program was started anew is not known.
    const before = hub.state().sweep
    const elapsedBefore = before?.sweepId === sweep.id ? before.elapsedS : 0
    const timing = createTimeLeft()
    const total = todo.good + todo.left + todo.steps.length
    let progress: SweepProgress = {
      sweepId: sweep.id,
      state: 'running',
      reason: '',
      done: todo.good,
      missing: todo.left,
      total,
      retakes: 0,
      elapsedS: elapsedBefore,
      leftS: null,
      current: null,
    }
    const update = (change: Partial<SweepProgress>): void => {
      const merged = { ...progress, ...change, elapsedS: elapsedBefore + clock.now() - startedAt }
      progress = { ...merged, leftS: timing.left(total - merged.done - merged.missing) }
      hub.patch({ sweep: progress })
    }
    const listener: RunListener = {
      async onPhase(phase) {
        await setState(sweep.id, phase, '')
        update({ state: phase })
        if (phase === 'ladder')
          await hub.note('info', `Measuring the ladder of ${sweep.plan.levels.length} levels.`, sweep.id)
      },
      onAttempt: (step, attempt) => update({ current: { from: step.from, to: step.to, repeat: step.repeat, attempt } }),
      onCapture(info, seconds) {
        timing.add(seconds)
        if (info.verdict === 'good') update({ done: progress.done + 1 })
        hub.emit({ kind: 'capture', captureId: info.id, sweepId: info.sweepId, verdict: info.verdict })
      },
      async onRetake(step, attempt, why) {
        update({ retakes: progress.retakes + 1 })
        await hub.note('warn', `${step.from} → ${step.to}, repeat ${step.repeat}, attempt ${attempt}: ${why}`, sweep.id)
      },
      async onGivenUp(step, why) {
        update({ missing: progress.missing + 1 })
        await hub.note(
          'error',
          `${step.from} → ${step.to}, repeat ${step.repeat} is given up after ${sweep.plan.maxAttempts} attempts: ${why}`,
          sweep.id,
        )
      },
      async onWithdrawn(step) {
        // The capture that had been sent back counts again.
        update({ done: progress.done + 1 })
        await hub.note(
          'info',
          `${step.from} → ${step.to}, repeat ${step.repeat} is not retaken: it is no longer sent back.`,
          sweep.id,
        )
      },
      onNotice: (text) => hub.note('warn', text, sweep.id),
    }
    update({})
    await hub.note('info', openingWords(todo), sweep.id)
    const ending = await finish(
      mine,
      () => runSweep(deps, sweep, todo, listener, () => mine.pausing, mine.abort.signal),
      () => progress,
    )
    await deps.stimulus.release().catch(() => undefined)
    await deps
      .afterRun(sweep.id)
      .catch((error: unknown) =>
        hub.note('error', `Comparing the captures failed: ${toErrorDetail(error).message}`, sweep.id),
      )
    await setState(sweep.id, ending.state, ending.reason).catch((error: unknown) =>
      hub.note('error', toErrorDetail(error).message, sweep.id),
    )
    active = null
    update({ state: ending.state, reason: ending.reason, current: null })
    await hub.note(ending.level, ending.text, sweep.id)
    if (ending.lost === null) return
    if (onLost !== undefined) onLost(ending.lost)
    else if (ending.lost === 'rig') resumeWhenRigReturns(sweep.id)
  }

  interface Ending {
    readonly state: SweepState
    readonly reason: string
    readonly level: 'info' | 'warn' | 'error'
    readonly text: string
    readonly lost: Lost | null
  }

  async function finish(
    mine: Active,
    work: () => Promise<'done' | 'paused'>,
    progress: () => SweepProgress,
  ): Promise<Ending> {
    try {
      if ((await work()) === 'paused')
        return {
          state: 'paused',
          reason: 'Paused by the operator.',
          level: 'info',
          text: 'The sweep is paused.',
          lost: null,
        }
      const { done, missing } = progress()
      const text = `The sweep is finished: ${plural(done, 'capture')}, ${missing > 0 ? missing : 'none'} missing.`
      return {
        state: 'finished',
        reason: missing > 0 ? `${plural(missing, 'capture is', 'captures are')} missing.` : '',
        level: missing > 0 ? 'warn' : 'info',
        text,
        lost: null,
      }
    } catch (error) {
      if (mine.ending) return { ...mine.ending, level: 'info', text: mine.ending.reason, lost: null }
      const detail = toErrorDetail(error)
      return {
        state: 'paused',
        reason: detail.message,
        level: 'error',
        lost: await deps.losses.of(detail.code),
        text: `The sweep is paused: ${detail.message} ${detail.remedy}`.trim(),
      }
    }
  }

  async function end(sweepId: number, state: SweepState, reason: string): Promise<void> {
    if (waitingForRig?.sweepId === sweepId) stopWaiting()
    if (active?.sweep.id === sweepId) {
      const mine = active
      mine.ending = { state, reason }
      mine.abort.abort()
      await mine.ended
      return
    }
    await setState(sweepId, state, reason)
    const shown = hub.state().sweep
    if (shown?.sweepId === sweepId) hub.patch({ sweep: { ...shown, state, reason } })
  }

  return {
    start,
    async pause(sweepId) {
      if (active?.sweep.id !== sweepId) {
        if (waitingForRig?.sweepId === sweepId) return stopWaiting()
        throw new AppError('conflict', 'This sweep is not running.', 'There is nothing to pause.')
      }
      active.pausing = true
      const shown = hub.state().sweep
      if (shown) hub.patch({ sweep: { ...shown, reason: 'Pausing after the current capture.' } })
    },
    stop: (sweepId) => end(sweepId, 'stopped', 'Stopped by the operator.'),
    running: () => active !== null,
    idle: async () => active?.ended,
    async recover() {
      for (const sweep of await store.sweeps({}))
        if (sweep.state === 'running' || sweep.state === 'ladder')
          await setState(sweep.id, 'paused', 'The program ended while this sweep ran; every stored capture is kept.')
    },
    async close() {
      stopWaiting()
      if (active) await end(active.sweep.id, 'paused', 'The program was closed; the sweep can be resumed.')
    },
  }
}

function openingWords({ steps, retakes, good }: Todo & { good: number }): string {
  const again = steps.filter((step) => retakes.has(step.position)).length
  const count = plural(steps.length, 'capture')
  if (again > 0 && again === steps.length) return `The sweep resumes: ${count} to take again.`
  if (again > 0) return `The sweep resumes: ${count} to take, ${again} of them again.`
  return good > 0 ? `The sweep resumes: ${count} to take.` : `The sweep starts: ${count}.`
}
