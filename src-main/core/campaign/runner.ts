/** Works through the sweeps of a campaign's run, one after the other. */
import { sweepPlanOf, visitsOf, type CampaignPlan, type Visit } from '#shared/domain/campaign-plan.ts'
import type { Origin, Sweep } from '#shared/domain/capture.ts'
import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { Result } from '#shared/domain/result.ts'
import { isDue, nextDue, type Run, type RunAnswer, type RunProgress, type RunState } from '#shared/domain/run.ts'
import type { Hub } from '../hub.ts'
import { createLevelChanger } from '../level-changer.ts'
import type { Losses, Lost } from '../losses.ts'
import { checkPlan } from '../plan-check.ts'
import type { Clock, Rig, Stimulus, Store } from '../ports.ts'
import type { Sweeper } from '../sweeper.ts'
import { type AtVisit, type Changer, createArrival } from './arrival.ts'
import { createRunChanges, nameOf, SKIPPED, sweepsOf, type RunChanges } from './run-changes.ts'
import { createLook } from './look.ts'
import { warmUp, warmUpRecord } from './warm-up.ts'
import { whiteDrift } from './white-drift.ts'

export interface CampaignRunnerDeps {
  readonly store: Store
  readonly hub: Hub
  readonly rig: Rig
  readonly stimulus: Stimulus
  readonly clock: Clock
  readonly sweeper: Sweeper
  readonly losses: Losses
  readonly measure: (input: MeasureInput) => Promise<Result>
  readonly recipe: () => Recipe
  readonly changer: () => Changer
  /** The rig that is connected, as a sweep keeps it; throws `rig-absent`. */
  readonly rigOf: () => { readonly origin: Origin; readonly rigIdentity: string }
  /** `conflict` where what is captured now would not be of this origin. */
  readonly refuseOtherRig: (origin: Origin) => void
  /** The run is no longer at work: a simulated display set by hand follows plans again. */
  readonly atEnd: () => Promise<void>
}

export interface CampaignRunner extends RunChanges {
  /** Stores the run and its sweeps, in the order they will be worked through. */
  create(campaignId: number, plan: CampaignPlan): Promise<Run>
  /** Begins or goes on; what is finished stays finished. */
  start(runId: number): Promise<void>
  pause(runId: number): Promise<void>
  answer(runId: number, answer: RunAnswer): void
  /** A run is at work, also between its sweeps. */
  running(): boolean
  /** Resolves when no run is at work. */
  idle(): Promise<void>
  recover(): Promise<void>
  close(): Promise<void>
}

interface Active extends AtVisit {
  run: Run
  readonly abort: AbortController
  /** The sweep at work, and what ends its part of the run: a pause, or leaving it out. */
  at: number | null
  step: AbortController
  skipping: boolean
  warmed: boolean
  ended: Promise<void>
}

export function createCampaignRunner(deps: CampaignRunnerDeps): CampaignRunner {
  const { store, hub, rig, stimulus, clock, sweeper } = deps
  let active: Active | null = null

  async function setState(runId: number, state: RunState, reason: string): Promise<void> {
    await store.setRunState({ runId, state, reason })
    hub.emit({ kind: 'changed', what: 'sweeps' })
  }

  const show = (mine: Active, change: Partial<RunProgress>): void => {
    const before = hub.state().run
    const base: RunProgress =
      before?.runId === mine.run.id
        ? before
        : {
            runId: mine.run.id,
            campaignId: mine.run.campaignId,
            phase: 'sweeping',
            index: 0,
            total: mine.run.sweepIds.length,
            done: 0,
            sweepId: null,
            visit: null,
            question: null,
            warmUp: null,
            ownS: null,
            laterS: null,
          }
    hub.patch({ run: { ...base, ...change } })
  }

  const arrive = createArrival<Active>({ hub, look: createLook(deps), changer: deps.changer, show })

  /** Where the run stands: estimates by the plan, the sweep at work knows its own better. */
  function standing(
    sweeps: readonly Sweep[],
    own: Sweep,
  ): Pick<RunProgress, 'index' | 'total' | 'done' | 'ownS' | 'laterS'> {
    const takes = ({ plan, total, done }: Sweep): number =>
      checkPlan(plan).estimatedS * (total === 0 ? 1 : 1 - done / total)
    return {
      index: sweeps.findIndex(({ id }) => id === own.id),
      total: sweeps.length,
      done: sweeps.filter((sweep) => !isDue(sweep)).length,
      ownS: takes(own),
      laterS: sweeps.filter((sweep) => isDue(sweep) && sweep.id !== own.id).reduce((sum, one) => sum + takes(one), 0),
    }
  }

  async function warm(mine: Active, sweepId: number): Promise<void> {
    const limits = mine.plan.warmUp
    if (limits === null) return
    const { plan } = await store.sweep({ sweepId })
    await stimulus.prepare(plan, mine.step.signal)
    show(mine, { phase: 'warming' })
    const changer = createLevelChanger(stimulus, clock, plan)
    const end = await warmUp(
      { digitizer: rig.digitizer(), changer, clock },
      plan,
      limits,
      (state) => show(mine, { warmUp: state }),
      mine.step.signal,
    )
    const { level, words, reading } = warmUpRecord(end, limits)
    await hub.note(level, words)
    await store.addReading({ ...reading, campaignId: mine.run.campaignId, at: clock.iso() })
  }

  async function work(mine: Active): Promise<void> {
    for (;;) {
      const sweeps = await sweepsOf(store, mine.run.id)
      const sweep = nextDue(sweeps, mine.current)
      if (sweep === null) return
      const visit = { setting: sweep.setting, refreshHz: sweep.refreshHz }
      mine.step = new AbortController()
      mine.skipping = false
      mine.at = sweep.id
      if (mine.abort.signal.aborted) mine.step.abort()
      show(mine, { visit, sweepId: sweep.id, ...standing(sweeps, sweep) })
      try {
        const outcome = await take(mine, sweep.id, visit)
        if (outcome === 'taken') await reportDrift(mine, sweep.id)
        else if (outcome === 'left') await leave(sweep)
        else await waitFor(mine, outcome, sweep)
      } catch (error) {
        const { code } = toErrorDetail(error)
        const lost = mine.step.signal.aborted ? null : await deps.losses.of(code)
        if (lost !== null) await waitFor(mine, lost, sweep)
        else if (!mine.skipping || mine.abort.signal.aborted) throw error
        else await leave(sweep)
      } finally {
        mine.at = null
      }
    }
  }

  /** Answers what was lost where the sweep came to rest because of it. */
  async function take(mine: Active, sweepId: number, visit: Visit): Promise<'taken' | 'left' | Lost> {
    if (!mine.warmed) await warm(mine, sweepId)
    mine.warmed = true
    if ((await arrive(mine, sweepId, visit)) === 'skip') return 'left'
    refuseAborted(mine)
    show(mine, { phase: 'sweeping' })
    const gone: Lost[] = []
    await sweeper.start(sweepId, (lost) => gone.push(lost))
    // Asked to end while the sweep was beginning.
    if (mine.abort.signal.aborted) await sweeper.pause(sweepId)
    else if (mine.step.signal.aborted) await sweeper.stop(sweepId)
    await sweeper.idle()
    if (mine.skipping) return 'left'
    const [lost] = gone
    if (lost !== undefined && !mine.step.signal.aborted) return lost
    const after = await store.sweep({ sweepId })
    if (after.state !== 'finished') throw new AppError('conflict', after.reason || 'The sweep did not finish.')
    return 'taken'
  }

  /** Until rig and display are there again; the sweep is then taken up where it was, after another look at the display. */
  async function waitFor(mine: Active, lost: Lost, sweep: Sweep): Promise<void> {
    await hub.note('warn', `The ${lost} is lost. The run waits and goes on when it is back.`, sweep.id)
    show(mine, { phase: 'waiting' })
    try {
      await deps.losses.back(mine.step.signal)
    } catch (error) {
      if (!mine.skipping || mine.abort.signal.aborted) throw error
      return leave(sweep)
    }
    deps.refuseOtherRig(sweep.origin)
    // A display that was off may have come back with another setting.
    if (lost === 'display') mine.current = null
    await hub.note('info', `The ${lost} is back; the run goes on.`, sweep.id)
  }

  function refuseAborted(mine: Active): void {
    if (mine.step.signal.aborted) throw new AppError('cancelled', 'The run was paused.')
  }

  async function leave(sweep: Sweep): Promise<void> {
    await store.setSweepState(sweep.id, 'stopped', SKIPPED)
    hub.emit({ kind: 'changed', what: 'sweeps' })
    await hub.note('info', `${nameOf(sweep)} is skipped.`, sweep.id)
  }

  async function reportDrift(mine: Active, sweepId: number): Promise<void> {
    const found = whiteDrift(await sweepsOf(store, mine.run.id), sweepId)
    if (found !== null) await hub.note('warn', found, sweepId)
  }

  /** Stores the sweeps of the plan that are not there: all of a new run, the rest where the program ended meanwhile. */
  async function complete({ id, campaignId, plan }: Run): Promise<Run> {
    // One that a person hid was there.
    const there = (await store.sweeps({ campaignId, includeHidden: true })).filter(({ runId }) => runId === id)
    const visits = [...visitsOf(plan).entries()].filter(
      ([, visit]) =>
        !there.some(({ setting, refreshHz }) => setting === visit.setting && refreshHz === visit.refreshHz),
    )
    if (visits.length > 0) {
      const { origin, rigIdentity } = deps.rigOf()
      for (const [position, visit] of visits) {
        const sweepPlan = sweepPlanOf(plan, visit, position)
        const { captures: total } = checkPlan(sweepPlan)
        await store.createSweep({ campaignId, plan: sweepPlan, origin, rigIdentity, total, run: { id, position } })
      }
      hub.emit({ kind: 'changed', what: 'sweeps' })
    }
    return store.run({ runId: id })
  }

  async function run(mine: Active): Promise<void> {
    let state: RunState = 'finished'
    let reason = ''
    try {
      await setState(mine.run.id, 'running', '')
      await work(mine)
    } catch (error) {
      const detail = toErrorDetail(error)
      state = 'paused'
      reason = detail.code === 'cancelled' ? 'Paused by the operator.' : `${detail.message} ${detail.remedy}`.trim()
      if (detail.code !== 'cancelled') await hub.note('error', `The run is paused: ${reason}`)
    }
    await deps.atEnd()
    active = null
    hub.patch({ run: null })
    await setState(mine.run.id, state, reason).catch((error: unknown) =>
      hub.note('error', toErrorDetail(error).message),
    )
    if (state === 'finished') await hub.note('info', 'The run is finished.')
  }

  const changes = createRunChanges({
    store,
    hub,
    rigOf: deps.rigOf,
    atWork: () => (active === null ? null : { runId: active.run.id, sweepId: active.at }),
    async leaveAtWork(sweepId) {
      const mine = active
      if (mine?.at !== sweepId) return
      mine.skipping = true
      mine.step.abort()
      if (sweeper.running()) await sweeper.stop(sweepId)
    },
    async changed(runId) {
      const mine = active
      if (mine?.run.id !== runId || mine.at === null) return
      const sweeps = await sweepsOf(store, runId)
      const own = sweeps.find(({ id }) => id === mine.at)
      const ownS = hub.state().run?.ownS ?? null
      if (own !== undefined && active === mine) show(mine, { ...standing(sweeps, own), ownS })
    },
  })

  return {
    ...changes,
    async create(campaignId, plan) {
      return complete(await store.createRun({ campaignId, plan }))
    },
    async start(runId) {
      if (active) throw new AppError('conflict', `Run ${active.run.id} is in progress.`, 'Pause it first.')
      if (sweeper.running()) throw new AppError('conflict', 'A sweep is running.', 'Pause it first.')
      const stored = await store.run({ runId })
      rig.digitizer()
      const due = nextDue(await sweepsOf(store, runId), null)
      if (due !== null) deps.refuseOtherRig(due.origin)
      if (active) throw new AppError('conflict', 'Another run has just been started.', 'Pause it first.')
      const mine: Active = {
        run: stored,
        plan: stored.plan,
        abort: new AbortController(),
        at: null,
        step: new AbortController(),
        skipping: false,
        warmed: false,
        ended: Promise.resolve(),
        waiting: null,
        current: null,
      }
      active = mine
      try {
        mine.run = await complete(stored)
      } catch (error) {
        active = null
        throw error
      }
      mine.ended = run(mine)
    },
    async pause(runId) {
      if (active?.run.id !== runId)
        throw new AppError('conflict', 'This run is not in progress.', 'There is nothing to pause.')
      const mine = active
      const sweeping = hub.state().sweep
      mine.abort.abort()
      mine.step.abort()
      if (sweeper.running() && sweeping !== null) await sweeper.pause(sweeping.sweepId)
      await mine.ended
    },
    answer(runId, answer) {
      if (active?.run.id !== runId || active.waiting === null)
        throw new AppError('conflict', 'Nothing is asked at the moment.')
      active.waiting(answer)
    },
    running: () => active !== null,
    idle: async () => active?.ended,
    async recover() {
      for (const campaign of await store.campaigns())
        for (const { id, state } of await store.runs({ campaignId: campaign.id }))
          if (state === 'running')
            await setState(
              id,
              'paused',
              'The program ended while this run was in progress; every stored capture is kept.',
            )
    },
    async close() {
      if (active === null) return
      const mine = active
      mine.abort.abort()
      mine.step.abort()
      await mine.ended
    },
  }
}
