/** Works through the sweeps of a campaign's run: asks for each setting, checks what it is told, then lets the sweep run. */
import { sweepPlanOf, visitsOf, type CampaignPlan, type Visit } from '#shared/domain/campaign-plan.ts'
import type { Origin } from '#shared/domain/capture.ts'
import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import { hertz } from '#shared/domain/quantity-text.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { Result } from '#shared/domain/result.ts'
import type { Run, RunAnswer, RunProgress, RunQuestion, RunState } from '#shared/domain/run.ts'
import type { Hub } from '../hub.ts'
import { createLevelChanger } from '../level-changer.ts'
import { checkPlan } from '../plan-check.ts'
import type { Clock, Rig, Stimulus, Store } from '../ports.ts'
import type { Sweeper } from '../sweeper.ts'
import { canaryReadings, earlierCanaries, judgeVisit } from './visit-history.ts'
import { takeCanaries } from './visit-check.ts'
import { warmUp } from './warm-up.ts'
import { whiteDrift } from './white-drift.ts'

/** How setting and refresh rate get changed between sweeps. */
export type Changer =
  /** A person does it; the run waits for an answer. */
  | { readonly kind: 'ask' }
  /** A program of the operator does it; its exit code says whether it did. */
  | { readonly kind: 'command'; readonly run: (visit: Visit, signal: AbortSignal) => Promise<void> }
  /** A simulated display that follows the plan. */
  | { readonly kind: 'follows' }

export interface CampaignRunnerDeps {
  readonly store: Store
  readonly hub: Hub
  readonly rig: Rig
  readonly stimulus: Stimulus
  readonly clock: Clock
  readonly sweeper: Sweeper
  readonly measure: (input: MeasureInput) => Promise<Result>
  readonly recipe: () => Recipe
  readonly changer: () => Changer
  /** The rig that is connected, as a sweep keeps it; throws `rig-absent`. */
  readonly rigOf: () => { readonly origin: Origin; readonly rigIdentity: string }
  /** The run is no longer at work: a simulated display set by hand follows plans again. */
  readonly atEnd: () => Promise<void>
}

export interface CampaignRunner {
  /** Stores the run and its sweeps, in the order they will be worked through. */
  create(campaignId: number, plan: CampaignPlan): Promise<Run>
  /** Begins or goes on; what is finished stays finished. */
  start(runId: number): Promise<void>
  pause(runId: number): Promise<void>
  answer(runId: number, answer: RunAnswer): void
  /** Resolves when no run is at work. */
  idle(): Promise<void>
  recover(): Promise<void>
  close(): Promise<void>
}

interface Active {
  run: Run
  readonly plan: CampaignPlan
  readonly abort: AbortController
  ended: Promise<void>
  waiting: ((answer: RunAnswer) => void) | null
  /** What the display is believed to be set to; null when nobody knows. */
  current: Visit | null
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
            visit: null,
            question: null,
            warmUp: null,
            leftS: null,
          }
    hub.patch({ run: { ...base, ...change } })
  }

  function ask(mine: Active, question: RunQuestion): Promise<RunAnswer> {
    return new Promise((resolve, reject) => {
      const stop = (): void => reject(new AppError('cancelled', 'The run was paused.'))
      if (mine.abort.signal.aborted) return stop()
      mine.abort.signal.addEventListener('abort', stop, { once: true })
      mine.waiting = (answer) => {
        mine.abort.signal.removeEventListener('abort', stop)
        mine.waiting = null
        show(mine, { question: null })
        resolve(answer)
      }
      // Only now can it be answered.
      show(mine, { phase: 'asking', question, visit: question.visit })
    })
  }

  /** Time the sweeps from `index` on will take, s; estimates only, the sweep at work knows its own better. */
  async function leftFrom(mine: Active, index: number): Promise<number> {
    const sweeps = await Promise.all(mine.run.sweepIds.slice(index).map((sweepId) => store.sweep({ sweepId })))
    return sweeps
      .filter(({ state }) => state !== 'finished' && state !== 'stopped')
      .reduce(
        (sum, { plan, total, done }) => sum + checkPlan(plan).estimatedS * (total === 0 ? 1 : 1 - done / total),
        0,
      )
  }

  /** Brings the display to a visit and believes it only when refresh and canaries say so. */
  async function arrive(mine: Active, sweepId: number, visit: Visit): Promise<'go' | 'skip'> {
    let reason = ''
    let kind: RunQuestion['kind'] = 'change'
    let settled = mine.current?.setting === visit.setting && mine.current.refreshHz === visit.refreshHz
    for (;;) {
      if (!settled) {
        const answer = await changeTo(mine, visit, kind, reason)
        if (answer === 'skip') return 'skip'
        if (answer === 'accept') {
          await hub.note(
            'warn',
            `Accepted as it is: ${visit.setting} at ${hertz(visit.refreshHz)} Hz. ${reason}`,
            sweepId,
          )
          mine.current = visit
          return 'go'
        }
      }
      const found = await look(mine, sweepId, visit)
      if (found === null) {
        mine.current = visit
        return 'go'
      }
      await hub.note('warn', found.reason, sweepId)
      ;({ kind, reason } = found)
      settled = false
      if (deps.changer().kind !== 'ask')
        throw new AppError('stimulus-mismatch', reason, 'Set the display by hand, then resume the run.')
    }
  }

  async function changeTo(mine: Active, visit: Visit, kind: RunQuestion['kind'], reason: string): Promise<RunAnswer> {
    const changer = deps.changer()
    if (changer.kind === 'follows') return 'again'
    if (changer.kind === 'command') {
      await changer.run(visit, mine.abort.signal)
      return 'again'
    }
    const before = mine.current
    const what = [
      before?.setting === visit.setting && kind === 'change' ? '' : `overdrive to ${visit.setting}`,
      before?.refreshHz === visit.refreshHz && kind === 'change' ? '' : `refresh rate to ${hertz(visit.refreshHz)} Hz`,
    ].filter((part) => part !== '')
    return ask(mine, {
      kind,
      visit,
      instruction: `Set ${what.join(' and ')}`,
      reason,
      answers: kind === 'unchanged' || kind === 'differs' ? ['again', 'accept', 'skip'] : ['again', 'skip'],
    })
  }

  /** Null when all is as it should be; otherwise what speaks against it. */
  async function look(
    mine: Active,
    sweepId: number,
    visit: Visit,
  ): Promise<{ kind: RunQuestion['kind']; reason: string } | null> {
    const { signal } = mine.abort
    show(mine, { phase: 'checking', visit })
    const { plan } = await store.sweep({ sweepId })
    try {
      await stimulus.prepare(plan, signal)
    } catch (error) {
      const { code, message } = toErrorDetail(error)
      if (code === 'stimulus-mismatch') return { kind: 'refresh', reason: message }
      throw error
    }
    const changer = createLevelChanger(stimulus, clock, plan)
    const canaries = await takeCanaries(
      { digitizer: rig.digitizer(), changer, clock, measure: deps.measure, recipe: deps.recipe() },
      plan,
      signal,
    )
    const history = await earlierCanaries(store, mine.run.campaignId)
    const verdict = judgeVisit(visit, canaries, history, mine.plan.canaryMarginPct / 100)
    if (verdict !== null) return verdict
    if (canaries.length === 0)
      await hub.note(
        'warn',
        `No transition could be measured in the check of ${visit.setting} at ${hertz(visit.refreshHz)} Hz: whether the setting was changed is not known.`,
        sweepId,
      )
    for (const reading of canaryReadings(mine.run.campaignId, sweepId, canaries, clock.iso()))
      await store.addReading(reading)
    return null
  }

  async function warm(mine: Active, sweepId: number): Promise<void> {
    const limits = mine.plan.warmUp
    if (limits === null) return
    const { plan } = await store.sweep({ sweepId })
    await stimulus.prepare(plan, mine.abort.signal)
    show(mine, { phase: 'warming' })
    const changer = createLevelChanger(stimulus, clock, plan)
    const end = await warmUp(
      { digitizer: rig.digitizer(), changer, clock },
      plan,
      limits,
      (state) => show(mine, { warmUp: state }),
      mine.abort.signal,
    )
    const words = end.settled
      ? `White has settled: ${(end.driftPctPerMin ?? 0).toFixed(3)} % a minute.`
      : `White still drifts by ${end.driftPctPerMin?.toFixed(3) ?? '?'} % a minute after ${Math.round(limits.atMostS / 60)} minutes; the run goes on.`
    await hub.note(end.settled ? 'info' : 'warn', words)
    await store.addReading({
      campaignId: mine.run.campaignId,
      sweepId: null,
      kind: 'warm-up',
      quantity: 'white, one value every 5 s',
      unit: 'V',
      value: null,
      series: end.points.map(({ volts }) => volts).slice(-4096),
      u: null,
      source: 'photodiode',
      place: 'patch',
      note: words,
      at: clock.iso(),
    })
  }

  async function work(mine: Active): Promise<void> {
    let warmed = false
    for (const [index, sweepId] of mine.run.sweepIds.entries()) {
      const sweep = await store.sweep({ sweepId })
      if (sweep.state === 'finished' || sweep.state === 'stopped') continue
      const visit = { setting: sweep.setting, refreshHz: sweep.refreshHz }
      show(mine, { index, visit, leftS: await leftFrom(mine, index) })
      if (!warmed) await warm(mine, sweepId)
      warmed = true
      if ((await arrive(mine, sweepId, visit)) === 'skip') {
        await store.setSweepState(sweepId, 'stopped', 'Skipped by the operator.')
        continue
      }
      show(mine, { phase: 'sweeping' })
      await sweeper.start(sweepId)
      await sweeper.idle()
      const after = await store.sweep({ sweepId })
      if (after.state !== 'finished') throw new AppError('conflict', after.reason || 'The sweep did not finish.')
      await reportDrift(mine, sweepId)
    }
  }

  async function reportDrift(mine: Active, sweepId: number): Promise<void> {
    const sweeps = await Promise.all(mine.run.sweepIds.map((id) => store.sweep({ sweepId: id })))
    const found = whiteDrift(
      sweeps.filter(({ ladder }) => ladder !== null),
      sweepId,
    )
    if (found !== null) await hub.note('warn', found, sweepId)
  }

  /** Stores the sweeps of the plan that are not there: all of a new run, the rest where the program ended meanwhile. */
  async function complete({ id, campaignId, plan, sweepIds }: Run): Promise<Run> {
    const there = await Promise.all(sweepIds.map((sweepId) => store.sweep({ sweepId })))
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

  return {
    async create(campaignId, plan) {
      return complete(await store.createRun({ campaignId, plan }))
    },
    async start(runId) {
      if (active) throw new AppError('conflict', `Run ${active.run.id} is in progress.`, 'Pause it first.')
      if (sweeper.running()) throw new AppError('conflict', 'A sweep is running.', 'Pause it first.')
      const stored = await store.run({ runId })
      rig.digitizer()
      if (active) throw new AppError('conflict', 'Another run has just been started.', 'Pause it first.')
      const mine: Active = {
        run: stored,
        plan: stored.plan,
        abort: new AbortController(),
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
      if (sweeper.running() && sweeping !== null) await sweeper.pause(sweeping.sweepId)
      await mine.ended
    },
    answer(runId, answer) {
      if (active?.run.id !== runId || active.waiting === null)
        throw new AppError('conflict', 'Nothing is asked at the moment.')
      active.waiting(answer)
    },
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
      await mine.ended
    },
  }
}
