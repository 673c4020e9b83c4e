/** One run over what a sweep still lacks: ladder, then every position of the walk without a good capture. */
import type { CaptureInfo, Ladder, Sweep } from '#shared/domain/capture.ts'
import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { WalkStep } from '#shared/domain/walk.ts'
import { createLevelChanger, type LevelChanger } from './level-changer.ts'
import type { Live } from './live.ts'
import type { Measure } from './measure-apart.ts'
import type { Clock, Rig, Stimulus, Store } from './ports.ts'
import { recordLadder, recordTransition, triggerFor, type RecordDeps } from './record.ts'
import { checkRecord } from './record-verdict.ts'

export interface RunDeps {
  readonly store: Store
  readonly rig: Rig
  readonly stimulus: Stimulus
  readonly clock: Clock
  readonly live: Live
  readonly measure: Measure
  readonly recipe: () => Recipe
  /** The dark level read at this range, V; null when there is none. */
  readonly darkV: (rangeV: number) => number | null
}

/** What a run has to take. */
export interface Todo {
  readonly steps: readonly WalkStep[]
  /** Attempts already made at a position. */
  readonly attempts: ReadonlyMap<number, number>
  /** Positions whose good capture a person sent back. */
  readonly retakes: ReadonlySet<number>
}

/** What a run tells while it goes; nothing here steers it. */
export interface RunListener {
  onPhase(phase: 'ladder' | 'running'): Promise<void>
  onAttempt(step: WalkStep, attempt: number): void
  onCapture(info: CaptureInfo, seconds: number): void
  onRetake(step: WalkStep, attempt: number, why: string): Promise<void>
  onGivenUp(step: WalkStep, why: string): Promise<void>
  /** A retake that is wanted no longer. */
  onWithdrawn(step: WalkStep): Promise<void>
  onNotice(text: string): Promise<void>
}

/** Attempts in a row that the rig itself spoiled before the run gives up and pauses. */
const RIG_FAILURES_IN_A_ROW = 5
/** Level-triggered records in a row without the edge in its place before the level trigger is no longer used. */
const MISPLACED_IN_A_ROW = 2
/** A ladder level must differ from its neighbour by this many standard deviations of its mean's noise. */
const LADDER_STEP_SIGMA = 3

/**
 * Runs until every step is captured or given up. `pausing` is asked between captures. Answers `done` or `paused`;
 * rejects with the AppError that made going on impossible (rig lost, archive full, stimulus gone, cancelled).
 */
export async function runSweep(
  deps: RunDeps,
  sweep: Sweep,
  todo: Todo,
  listener: RunListener,
  pausing: () => boolean,
  signal: AbortSignal,
): Promise<'done' | 'paused'> {
  const { plan } = sweep
  await deps.stimulus.prepare(plan, signal)
  const recorder: RecordDeps = {
    digitizer: deps.rig.digitizer(),
    clock: deps.clock,
    changer: createLevelChanger(deps.stimulus, deps.clock, plan),
  }
  const ladder = sweep.ladder ?? (await takeLadder(deps, recorder, sweep, listener, signal))
  await listener.onPhase('running')
  const run: StepRun = {
    deps,
    recorder,
    sweep,
    ladder,
    listener,
    signal,
    rigFailures: 0,
    misplaced: 0,
    ripplePairs: 0,
    todo,
  }
  for (const step of todo.steps) {
    if (pausing()) return 'paused'
    if (await withdrawn(run, step)) await listener.onWithdrawn(step)
    else await captureStep(run, step, todo.attempts.get(step.position) ?? 0)
  }
  if (run.ripplePairs > 0)
    await listener.onNotice(
      `${run.ripplePairs} captures were recorded without a level trigger, because the ripple of their plateaus reaches into the step.`,
    )
  return 'done'
}

async function takeLadder(
  deps: RunDeps,
  recorder: RecordDeps,
  sweep: Sweep,
  listener: RunListener,
  signal: AbortSignal,
): Promise<Ladder> {
  await listener.onPhase('ladder')
  const taken = await recordLadder(recorder, sweep.plan, deps.clock.iso(), signal)
  const ladder = { ...taken, darkV: await usableDark(taken, deps.darkV(sweep.plan.rangeV), listener) }
  await refuseBadLadder(ladder, sweep.plan.rangeV, listener)
  await deps.store.setLadder(sweep.id, ladder)
  return ladder
}

/** No light cannot be brighter than the darkest level: such a dark level was read of a sensor that was not covered. */
async function usableDark(
  { steps: [first] }: Pick<Ladder, 'steps'>,
  darkV: number | null,
  listener: RunListener,
): Promise<number | null> {
  if (darkV === null || first === undefined || darkV <= first.meanV + first.sdV) return darkV
  await listener.onNotice(
    `The dark level, ${(1000 * darkV).toFixed(2)} mV, is above level ${first.level} (${(1000 * first.meanV).toFixed(2)} mV) and is left out. Cover the sensor and read it again.`,
  )
  return null
}

/** A ladder that does not rise means that the sensor does not see the patch: nothing measured after it would mean anything. */
async function refuseBadLadder(ladder: Ladder, rangeV: number, listener: RunListener): Promise<void> {
  const first = ladder.steps[0]
  const last = ladder.steps[ladder.steps.length - 1]
  if (!first || !last) return
  const span = last.meanV - first.meanV
  if (span <= LADDER_STEP_SIGMA * Math.max(first.sdV, last.sdV) || span <= 0)
    throw new AppError(
      'rig-unsuitable',
      `The light does not rise with the level: ${first.meanV.toFixed(4)} V at level ${first.level}, ${last.meanV.toFixed(4)} V at level ${last.level}.`,
      'Check that the sensor faces the patch, that the patch is on the right screen and that the display is on.',
    )
  if (last.meanV > 0.98 * rangeV)
    throw new AppError(
      'rig-unsuitable',
      `Level ${last.level} gives ${last.meanV.toFixed(3)} V, at the end of the ${rangeV} V range; overshoot would be cut off.`,
      'Choose a larger range or less gain.',
    )
  if (last.meanV > 0.9 * rangeV)
    await listener.onNotice(
      `Level ${last.level} uses ${((100 * last.meanV) / rangeV).toFixed(0)} % of the range; a large overshoot may be cut off.`,
    )
}

interface StepRun {
  readonly deps: RunDeps
  readonly recorder: RecordDeps
  readonly sweep: Sweep
  readonly ladder: Ladder
  readonly listener: RunListener
  readonly signal: AbortSignal
  readonly todo: Todo
  rigFailures: number
  /** Level-triggered records in a row that did not hold the edge where its trigger has it. */
  misplaced: number
  ripplePairs: number
}

/** A retake that a person took back while the run was under way. */
async function withdrawn({ deps, sweep, todo }: StepRun, step: WalkStep): Promise<boolean> {
  if (!todo.retakes.has(step.position)) return false
  const queue = await deps.store.retakes({ sweepId: sweep.id })
  return queue.every((entry) => entry.position !== step.position)
}

async function captureStep(run: StepRun, step: WalkStep, attemptsBefore: number): Promise<void> {
  const { sweep, listener, deps } = run
  let why = ''
  let noEdge = false
  for (let attempt = attemptsBefore + 1; attempt <= attemptsBefore + sweep.plan.maxAttempts; attempt++) {
    listener.onAttempt(step, attempt)
    const startedAt = deps.clock.now()
    try {
      const taken = await attemptStep(run, step, attempt, noEdge)
      run.rigFailures = 0
      listener.onCapture(taken.info, deps.clock.now() - startedAt)
      if (taken.byLevel !== null) await judgeTrigger(run, taken.byLevel)
      if (taken.info.verdict === 'good') return
      noEdge ||= taken.byLevel === 'misplaced'
      why = taken.why
    } catch (error) {
      const detail = toErrorDetail(error)
      // Taken back while it was recorded: the archive keeps the capture that counts again, not this one.
      if (detail.code === 'conflict' && (await withdrawn(run, step))) return listener.onWithdrawn(step)
      if (detail.code !== 'rig-protocol' && detail.code !== 'rig-timeout') throw error
      run.rigFailures += 1
      if (run.rigFailures >= RIG_FAILURES_IN_A_ROW) throw error
      noEdge ||= detail.code === 'rig-timeout'
      why = detail.message
    }
    await listener.onRetake(step, attempt, why)
  }
  await listener.onGivenUp(step, why)
}

/** A rig may accept a level trigger and yet record at some other time: then the host starts the records instead. */
async function judgeTrigger(run: StepRun, edge: 'in place' | 'misplaced'): Promise<void> {
  run.misplaced = edge === 'misplaced' ? run.misplaced + 1 : 0
  if (run.misplaced !== MISPLACED_IN_A_ROW) return
  await run.listener.onNotice(
    `The rig accepts the level trigger but does not trigger on the light edge: ${MISPLACED_IN_A_ROW} records in a row ` +
      'do not hold it where it belongs. The host starts the records from here on. Check the trigger of the rig, or choose the bus trigger in the plan.',
  )
}

interface Attempt {
  readonly info: CaptureInfo
  /** Why the capture is not good. */
  readonly why: string
  /** Where the edge was in a level-triggered record; null for any other, or where it says nothing about the trigger. */
  readonly byLevel: 'in place' | 'misplaced' | null
}

async function attemptStep(
  run: StepRun,
  step: WalkStep,
  attempt: number,
  withoutLevelTrigger: boolean,
): Promise<Attempt> {
  const { deps, recorder, sweep, ladder, signal } = run
  const { plan } = sweep
  await goTo(recorder.changer, deps.clock, step.from, plan.ladderSettleS, signal)
  const wanted = triggerFor(plan, step, ladder)
  if (wanted.source === 'bus' && plan.trigger === 'level') run.ripplePairs += 1
  const distrusted = withoutLevelTrigger || run.misplaced >= MISPLACED_IN_A_ROW
  const trigger = distrusted ? ({ source: 'bus' } as const) : wanted
  const { recording, frameLog, edgeAtTrigger } = await recordTransition(recorder, plan, step, trigger, signal)
  const { from, to } = step
  const { trace, triggerIndex } = recording
  const { refreshHz } = plan
  const result = await deps.measure(
    { trace, triggerIndex, from, to, refreshHz, ladder, edgeAtTrigger, recipe: deps.recipe() },
    signal,
  )
  const check = checkRecord(recording.trace, result.landmarks.crossMidS, plan, step, ladder)
  const verdict = frameLog.dropped ? 'dropped-frame' : check.verdict
  const info = await deps.store.addCapture(
    {
      sweepId: sweep.id,
      from: step.from,
      to: step.to,
      repeat: step.repeat,
      attempt,
      position: step.position,
      takenAt: deps.clock.iso(),
      verdict,
      trace: recording.trace,
      triggerIndex: recording.triggerIndex,
      source: sweep.rigIdentity,
      frameLog,
    },
    result,
  )
  deps.live.put({
    trace: recording.trace,
    triggerIndex: recording.triggerIndex,
    result,
    sweepId: sweep.id,
    captureId: info.id,
    from: step.from,
    to: step.to,
    refreshHz: plan.refreshHz,
  })
  const judged = edgeAtTrigger && verdict !== 'dropped-frame' && verdict !== 'gapped'
  return {
    info,
    why: frameLog.dropped ? 'the stimulus dropped a frame' : check.why,
    byLevel: judged ? (check.misplaced ? 'misplaced' : 'in place') : null,
  }
}

/** Brings the display to a level and lets it come to rest; nothing to do while the walk is unbroken. */
async function goTo(
  changer: LevelChanger,
  clock: Clock,
  level: number,
  settleS: number,
  signal: AbortSignal,
): Promise<void> {
  if (changer.level === level) return
  await changer.change(level, signal)
  await clock.sleep(settleS, signal)
}
