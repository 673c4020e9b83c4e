/** Guided sequences at work: asks, shows, reads and stores one step after the other. */
import { AppError, toErrorDetail } from '#shared/domain/errors.ts'
import { FLASH_LIMIT_SPACING_S } from '#shared/domain/flash.ts'
import {
  SEQUENCES,
  type GuidedAnswer,
  type GuidedAnswerKind,
  type GuidedPlan,
  type GuidedProgress,
  type GuidedValue,
  type OpenSequence,
} from '#shared/domain/guided.ts'
import { isPossible } from '#shared/domain/record-kinds.ts'
import type { Reading } from '#shared/domain/reading.ts'
import {
  BEGUN_KIND,
  begunReading,
  planOf,
  pointReadings,
  pointsOf,
  SHOWN,
  wholeReading,
} from '#shared/guided/points.ts'
import { fieldsOf, stepsOf, type GuidedStep } from '#shared/guided/steps.ts'
import type { Hub } from '../hub.ts'
import type { Job, Jobs } from '../jobs.ts'
import type { Store } from '../ports.ts'
import { calibrationOf, readStep } from './read.ts'
import { sweepPlanFor, type ReadDeps, type Taken } from './record-plan.ts'
import { waitForAnswer } from '../wait-for-answer.ts'

export interface Guides {
  /** Begins a sequence; `conflict` while one is at work, or where its photodiode is not calibrated. Answers with the job's id. */
  start(campaignId: number, plan: GuidedPlan): Promise<string>
  /** Goes on with one that was left; what was taken stays. */
  resume(campaignId: number, sequenceId: number): Promise<string>
  /** `conflict` when nothing is asked, or not that. */
  answer(answer: GuidedAnswer): void
  /** Begun and not finished, oldest first. */
  open(campaignId: number): Promise<OpenSequence[]>
  running(): boolean
}

export interface GuidesDeps extends ReadDeps {
  readonly store: Store
  readonly hub: Hub
  readonly jobs: Jobs
}

/** A person moves a sensor and looks at a number, s; until the first steps tell better. */
const HANDS_S = 12

interface Active {
  readonly job: Job<'guided'>
  readonly campaignId: number
  readonly sequenceId: number
  readonly plan: GuidedPlan
  readonly steps: readonly GuidedStep[]
  readonly points: Map<string, readonly Reading[]>
  readonly skipped: Set<string>
  /** Clock times of the first step and of the last change of the picture. */
  firstAt: number | null
  changedAt: number
  /** What taking the steps of this session took, s. */
  readonly durations: number[]
  progress: GuidedProgress
  waiting: ((answer: GuidedAnswer) => void) | null
}

type Outcome = 'taken' | 'skip' | 'back'

export function createGuides(deps: GuidesDeps): Guides {
  const { store, hub, jobs, clock, stimulus } = deps
  let active: Active | null = null

  const readingsOf = (campaignId: number): Promise<Reading[]> => store.readings({ campaignId })

  const show = (mine: Active, change: Partial<GuidedProgress>): void => {
    const steps = mine.steps.map(({ id, place, picture: { x, y } }) => ({
      place,
      at: { x, y },
      state: mine.points.has(id) ? ('taken' as const) : mine.skipped.has(id) ? ('skipped' as const) : ('open' as const),
    }))
    mine.progress = { ...mine.progress, ...change, steps, leftS: leftOf(mine) }
    hub.patch({ guided: mine.progress })
  }

  function ask(mine: Active, change: Partial<GuidedProgress> & Pick<GuidedProgress, 'answers'>): Promise<GuidedAnswer> {
    return waitForAnswer(mine, mine.job.signal, {
      asked: () => show(mine, change),
      over: () => show(mine, { answers: [], fields: [], problem: '', note: '' }),
      stopped: 'The sequence was stopped; what was taken is kept.',
    })
  }

  /** No picture follows another faster than three times a second, whoever asks for it. */
  async function picture(mine: Active, { picture: shown, sensor }: GuidedStep, mark: boolean): Promise<void> {
    const { signal } = mine.job
    const wait = mine.changedAt + FLASH_LIMIT_SPACING_S - clock.now()
    if (wait > 0) await clock.sleep(wait, signal)
    mine.changedAt = clock.now()
    await stimulus.holdAt(sensor)
    await stimulus.picture({ ...shown, mark }, signal)
    mine.changedAt = clock.now()
  }

  async function takeStep(mine: Active, index: number): Promise<Outcome> {
    const { plan, job } = mine
    const step = mine.steps[index] as GuidedStep
    const around: GuidedAnswerKind[] = ['skip', ...(index > 0 ? (['back'] as const) : [])]
    const fields = fieldsOf(plan)
    let problem = ''
    if (isOver(mine, step, clock.now())) return 'skip'
    show(mine, { index, instruction: step.instruction, detail: step.detail, values: [], note: '', problem: '' })
    for (;;) {
      // One thing after the other.
      // oxlint-disable no-await-in-loop
      if (problem !== '' || step.instruction !== '') {
        await picture(mine, step, true)
        const canType = problem !== '' && fields.length > 0
        const answer = await ask(mine, {
          phase: problem === '' ? 'moving' : 'failed',
          instruction: step.instruction === '' ? step.place : step.instruction,
          answers: ['next', ...(canType ? (['typed'] as const) : []), ...around],
          fields: canType ? fields : [],
          problem,
          values: [],
          note: '',
        })
        if (answer.kind === 'skip' || answer.kind === 'back') return answer.kind
        if (answer.kind === 'typed') {
          await keep(mine, step, typedValues(plan, answer.values))
          return 'taken'
        }
      }
      mine.firstAt ??= clock.now()
      const taken = await readOnce(mine, step, around)
      if (taken === 'skip' || taken === 'back') return taken
      if ('problem' in taken) {
        problem = taken.problem
        continue
      }
      const looked = step.instruction !== '' && (plan.by === 'photodiode' || plan.by === 'meter')
      if (looked) {
        const answer = await ask(mine, {
          phase: 'judging',
          values: taken.values,
          note: taken.note,
          answers: ['accept', 'again', ...around],
        })
        if (answer.kind === 'skip' || answer.kind === 'back') return answer.kind
        if (answer.kind === 'again') {
          problem = ''
          continue
        }
      }
      await keep(mine, step, taken)
      job.result({ taken: mine.points.size })
      return 'taken'
      // oxlint-enable no-await-in-loop
    }
  }

  /** Shows the patch, lets it settle and reads it, or has it read. */
  async function readOnce(
    mine: Active,
    step: GuidedStep,
    around: readonly GuidedAnswerKind[],
  ): Promise<Taken | 'skip' | 'back' | { readonly problem: string }> {
    const { plan, job } = mine
    const { signal } = job
    try {
      show(mine, { phase: 'settling' })
      const wait = (mine.firstAt ?? 0) + step.notBeforeS - clock.now()
      if (wait > 0) await clock.sleep(wait, signal)
      if (plan.sequence !== 'strobing') {
        await picture(mine, step, false)
        await clock.sleep(plan.settleS, signal)
      }
      if (plan.by === 'typed' || plan.by === 'file') {
        const typed = plan.by === 'typed'
        const answer = await ask(mine, {
          phase: 'may-read',
          answers: [typed ? 'typed' : 'next', ...around],
          fields: typed ? fieldsOf(plan) : [],
        })
        if (answer.kind === 'skip' || answer.kind === 'back') return answer.kind
        return answer.kind === 'typed'
          ? typedValues(plan, answer.values)
          : { values: [SHOWN], source: plan.source, note: '' }
      }
      show(mine, { phase: 'reading' })
      const taken = await readStep(deps, plan, step, await readingsOf(mine.campaignId), signal)
      if (plan.sequence === 'strobing') mine.changedAt = clock.now()
      return taken
    } catch (error) {
      const { code, message, remedy } = toErrorDetail(error)
      if (code === 'cancelled' || signal.aborted) throw error
      await hub.note('warn', `${SEQUENCES[plan.sequence]}, ${step.place}: ${message}`)
      return { problem: `${message} ${remedy}`.trim() }
    }
  }

  /** On disk before the next step; readings of the step that were there before are taken out of the lists. */
  async function keep(mine: Active, step: GuidedStep, taken: Taken): Promise<void> {
    const { campaignId, sequenceId, plan } = mine
    const before = mine.points.get(step.id) ?? []
    const points = pointReadings(campaignId, sequenceId, plan, step, taken, clock.iso())
    const added = await store.addReadings({ readings: points })
    // oxlint-disable-next-line no-await-in-loop
    for (const { id } of before) await store.hideReading({ readingId: id, hidden: true })
    mine.points.set(step.id, added)
    mine.skipped.delete(step.id)
    hub.emit({ kind: 'changed', what: 'readings' })
    show(mine, {})
  }

  async function work(mine: Active): Promise<string> {
    const { job, steps, plan } = mine
    await stimulus.prepare(sweepPlanFor(plan), job.signal)
    const openAfter = (from: number): number => {
      const is = ({ id }: GuidedStep): boolean => !mine.points.has(id) && !mine.skipped.has(id)
      const next = steps.findIndex((step, i) => i >= from && is(step))
      return next < 0 ? steps.findIndex(is) : next
    }
    job.progress(mine.points.size, steps.length)
    for (let index = openAfter(0); index >= 0;) {
      const beganAt = clock.now()
      // oxlint-disable-next-line no-await-in-loop
      const outcome = await takeStep(mine, index)
      if (outcome === 'taken') mine.durations.push(clock.now() - beganAt)
      if (outcome === 'skip') mine.skipped.add((steps[index] as GuidedStep).id)
      index = outcome === 'back' ? Math.max(0, index - 1) : openAfter(index + 1)
      job.progress(mine.points.size, steps.length)
    }
    return conclude(mine)
  }

  async function conclude({ campaignId, sequenceId, plan, steps, points, job }: Active): Promise<string> {
    const missing = steps.filter(({ id }) => !points.has(id))
    const whole = wholeReading(campaignId, sequenceId, plan, steps, points)
    const needsAll = plan.sequence === 'uniformity' || plan.sequence === 'colour' || plan.sequence === 'strobing'
    if (missing.length > 0 && (needsAll || whole === null))
      return `${missing.length} of ${steps.length} steps were left out. Resume the sequence to take them.`
    if (whole !== null) job.result({ readingId: (await store.addReading(whole)).id })
    await store.hideReading({ readingId: sequenceId, hidden: true })
    hub.emit({ kind: 'changed', what: 'readings' })
    return ''
  }

  function begin(campaignId: number, sequenceId: number, plan: GuidedPlan, readings: readonly Reading[]): string {
    const steps = stepsOf(plan)
    const points = new Map<string, readonly Reading[]>(pointsOf(readings, sequenceId))
    const first = { sequenceId, taken: points.size, total: steps.length, readingId: null }
    return jobs.start('guided', SEQUENCES[plan.sequence], first, async (job) => {
      const mine: Active = {
        job,
        campaignId,
        sequenceId,
        plan,
        steps,
        points,
        skipped: new Set(),
        firstAt: beganAt(points.get(steps[0]?.id ?? '')),
        changedAt: -Infinity,
        durations: [],
        waiting: null,
        progress: {
          jobId: job.id,
          sequenceId,
          campaignId,
          sequence: plan.sequence,
          phase: 'settling',
          index: 0,
          steps: [],
          instruction: '',
          detail: '',
          answers: [],
          fields: [],
          values: [],
          note: '',
          problem: '',
          leftS: null,
        },
      }
      active = mine
      try {
        return await work(mine)
      } finally {
        active = null
        hub.patch({ guided: null })
        await stimulus.release().catch(() => undefined)
      }
    })
  }

  /** The moment of the first step, by this clock, where it was taken in an earlier session. */
  const beganAt = (first: readonly Reading[] | undefined): number | null =>
    first?.[0] === undefined
      ? null
      : clock.now() - ((clock.rate ?? 1) * (Date.parse(clock.iso()) - Date.parse(first[0].at))) / 1000

  function refuseSecond(): void {
    if (jobs.running('guided') > 0)
      throw new AppError('conflict', 'A guided sequence is at work already.', 'Finish or stop it first.')
  }

  /** What would fail at every step is said before the first. */
  function refuseUnready({ sequence, by }: GuidedPlan, readings: readonly Reading[]): void {
    if (by !== 'photodiode') return
    deps.rig.digitizer()
    if (sequence !== 'strobing') calibrationOf(readings)
  }

  return {
    async start(campaignId, plan) {
      refuseSecond()
      const readings = await readingsOf(campaignId)
      refuseUnready(plan, readings)
      const { id } = await store.addReading(begunReading(campaignId, plan, clock.iso()))
      refuseSecond()
      return begin(campaignId, id, plan, readings)
    },
    async resume(campaignId, sequenceId) {
      refuseSecond()
      const readings = await readingsOf(campaignId)
      const begun = readings.find(({ id }) => id === sequenceId)
      const plan = begun === undefined ? null : planOf(begun)
      if (plan === null)
        throw new AppError('not-found', 'This sequence is finished or is not in the campaign.', 'Begin a new one.')
      refuseUnready(plan, readings)
      return begin(campaignId, sequenceId, plan, readings)
    },
    answer(answer) {
      if (active?.waiting == null || !active.progress.answers.includes(answer.kind))
        throw new AppError('conflict', 'This is not asked at the moment.')
      if (answer.kind === 'typed') typedValues(active.plan, answer.values)
      active.waiting(answer)
    },
    async open(campaignId) {
      const readings = await readingsOf(campaignId)
      return readings.flatMap((reading) => {
        const plan = reading.kind === BEGUN_KIND ? planOf(reading) : null
        if (plan === null) return []
        const { id: sequenceId, at: begunAt } = reading
        return [{ sequenceId, plan, taken: pointsOf(readings, sequenceId).size, total: stepsOf(plan).length, begunAt }]
      })
    },
    running: () => jobs.running('guided') > 0,
  }
}

/** A moment that passed while nobody measured is left out: the light of now is not that of then. */
const isOver = ({ plan, firstAt }: Active, { notBeforeS }: GuidedStep, now: number): boolean =>
  notBeforeS > 0 && firstAt !== null && now - firstAt > notBeforeS + 30 * plan.everyMinutes

/** From what steps of this session took; before the first, from what they hold. */
function leftOf({ plan, steps, points, skipped, durations, firstAt }: Active): number | null {
  const open = steps.filter(({ id }) => !points.has(id) && !skipped.has(id))
  const last = open.at(-1)
  if (last === undefined) return 0
  if (last.notBeforeS > 0 && firstAt === null) return last.notBeforeS
  const typical =
    durations.length > 0
      ? durations.reduce((sum, one) => sum + one, 0) / durations.length
      : plan.settleS + (last.instruction === '' && plan.by !== 'typed' ? 1 : HANDS_S)
  return open.length * typical
}

/** What a person typed, in the order of the fields. @throws AppError `invalid-input`. */
function typedValues(plan: GuidedPlan, values: readonly number[]): Taken {
  const fields = fieldsOf(plan)
  if (values.length !== fields.length || values.some((value) => !isPossible(value, { min: 0 })))
    throw new AppError(
      'invalid-input',
      `${fields.map(({ quantity }) => quantity).join(', ')} in ${fields[0]?.unit ?? '1'}, 0 or from 1e-12 to 1e9, ${fields.length === 1 ? 'is' : 'are'} needed.`,
    )
  const taken: GuidedValue[] = fields.map((field, i) => ({ ...field, value: values[i] as number, u: plan.u }))
  return { values: taken, source: plan.source, note: '' }
}
