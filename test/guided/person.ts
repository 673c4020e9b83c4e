/** A person who works through guided sequences on a bench. */
import { newReadingSchema } from '#shared/domain/reading.ts'
import { guidedPlanSchema, type GuidedAnswer, type GuidedPlan, type GuidedProgress } from '#shared/domain/guided.ts'
import type { Reading } from '#shared/domain/reading.ts'
import { openBenchCore, type BenchCore } from '../support/bench-core.ts'

export interface Person {
  readonly bench: BenchCore
  readonly campaignId: number
  begin(plan: Partial<GuidedPlan> & Pick<GuidedPlan, 'sequence' | 'by'>): Promise<string>
  /** The next question; null when the sequence has ended. */
  asked(): Promise<GuidedProgress | null>
  say(kind: Exclude<GuidedAnswer['kind'], 'typed'> | readonly number[]): Promise<void>
  /** Says done and keep until the end or until `stop` holds of a question, which is answered. */
  goOn(stop?: (question: GuidedProgress) => boolean): Promise<GuidedProgress | null>
  readings(kind?: string): Promise<Reading[]>
  close(): Promise<void>
}

export async function person(options: Parameters<typeof openBenchCore>[0] = {}): Promise<Person> {
  const bench = await openBenchCore(options)
  const { core } = bench
  await core.system.acknowledgeWarning({ understood: true })
  const found = (await core.campaigns.list())[0]
  const { id: campaignId } =
    found ?? (await core.campaigns.create({ name: 'Invented', display: 'Invented display', note: '' }))
  const asked = async (): Promise<GuidedProgress | null> => {
    const over = (): boolean => !bench.state().jobs.some(({ kind, state }) => kind === 'guided' && state === 'running')
    await bench.until(({ guided }) => over() || (guided !== null && guided.answers.length > 0), 'a question', 30)
    return over() ? null : bench.state().guided
  }
  const say: Person['say'] = async (given) => {
    await core.guided.answer(typeof given === 'string' ? { kind: given } : { kind: 'typed', values: [...given] })
  }
  return {
    bench,
    campaignId,
    asked,
    say,
    async begin(plan) {
      const { jobId } = await core.guided.start({
        campaignId,
        plan: guidedPlanSchema.parse({ settleS: 0.35, ...plan }),
      })
      return jobId
    },
    async goOn(stop = () => false) {
      for (;;) {
        // oxlint-disable-next-line no-await-in-loop
        const question = await asked()
        if (question === null || stop(question)) return question
        // oxlint-disable-next-line no-await-in-loop
        await say(question.answers.includes('accept') ? 'accept' : 'next')
      }
    },
    readings: (kind) => core.readings.list({ campaignId, ...(kind === undefined ? {} : { kind }) }),
    close: () => bench.close(),
  }
}

/** 200 ± 2 cd/m² where the simulated detector gives 4 V, and 0.02 V covered: 50.2513 cd/m² a volt. */
export async function calibrate({ bench, campaignId }: Person): Promise<void> {
  await bench.core.readings.add(
    newReadingSchema.parse({
      campaignId,
      kind: 'detector-calibration',
      quantity: 'Detector calibration',
      unit: 'cd/m²',
      series: [200, 4, 0.02],
      u: 2,
      at: '2026-01-01T00:00:00Z',
    }),
  )
}
