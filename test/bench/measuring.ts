/** Speed of one measurement: against numpy and scipy, and by record length. */
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { hasScipy, runReference, type StepJob, voltsOf } from '../reference/tools.ts'
import { asTrace, inputOf, overdrive } from '../reference/waves.ts'
import { type Figure, medianOf, timeRuns } from './report.ts'

const TURNS = 4
const wave = overdrive(0.1, 2e-3, 6e-3)

/** A typical capture: 0.05 s before and 0.25 s after at 50 kS/s, 16-bit codes with noise. */
function typical(rateHz: number) {
  const made = asTrace(wave, { rateHz, preS: 0.05, postS: 0.25, noiseV: 0.002, int16: true })
  return inputOf(made)
}

const medianMs = (timing: Record<string, unknown> | undefined) => 1000 * Number(timing?.['median'])

export function againstReference(): Figure[] {
  if (!hasScipy()) return []
  const input = typical(50_000)
  timeRuns(() => measureCapture(input), 0, 2000)
  const job: StepJob = {
    kind: 'step',
    rate: 50_000,
    beforeShare: 0.6,
    afterShare: 0.2,
    percent: 10,
    band: 3,
    refresh: 60,
    plateaus: true,
    gaussian: true,
    runs: 30,
  }
  const values = voltsOf(input.trace)
  // Turns, of which each side's best median counts: load from elsewhere on the machine then decides for neither.
  const turns = Array.from({ length: TURNS }, () => {
    const [full, withoutFit] = runReference(
      [
        { job, values },
        { job: { ...job, gaussian: false }, values },
      ],
      true,
    )
    const ours = medianOf(timeRuns(() => measureCapture(input), 300, 50))
    return { ours, theirs: medianMs(full), lean: medianMs(withoutFit) }
  })
  const best = (side: 'ours' | 'theirs' | 'lean') => Math.min(...turns.map((turn) => turn[side]))
  const [ours, theirs, lean] = [best('ours'), best('theirs'), best('lean')]
  return [
    {
      what: 'full measurement of 15,000 samples, one thread, against numpy/scipy',
      value: theirs / ours,
      unit: '× faster',
      relation: 'at least',
      bound: 5,
      detail:
        `${ours.toFixed(3)} ms against ${theirs.toFixed(3)} ms, best of ${TURNS} medians each; reference without its Gaussian fit ` +
        `${lean.toFixed(3)} ms (${(lean / ours).toFixed(1)} ×), ours always with it`,
    },
  ]
}

export function byLength(): Figure[] {
  const lengths = [1000, 10_000, 100_000, 1_000_000].map((count) => ({ count, input: typical(count / 0.3) }))
  for (const { count, input } of lengths) timeRuns(() => measureCapture(input), 0, Math.min(3000, 3e7 / count))
  const turns = Array.from({ length: TURNS }, () =>
    lengths.map(({ count, input }) =>
      medianOf(timeRuns(() => measureCapture(input), Math.max(8, Math.min(1000, Math.round(2e6 / count))), 3)),
    ),
  )
  const costs = lengths.map(({ count }, i) => ({
    count,
    perSample: (1e6 * Math.min(...turns.map((turn) => turn[i] as number))) / count,
  }))
  const values = costs.map((cost) => cost.perSample)
  return [
    {
      what: 'cost per sample from 1,000 to 1,000,000 samples, dearest over cheapest',
      value: Math.max(...values) / Math.min(...values),
      unit: '×',
      relation: 'at most',
      bound: 1.5,
      detail: costs.map((cost) => `${cost.count}: ${cost.perSample.toFixed(1)} ns`).join(', '),
    },
  ]
}
