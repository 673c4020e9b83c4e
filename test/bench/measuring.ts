/** Speed of one measurement: against numpy and scipy, and by record length. */
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { DEFAULT_STEP, hasScipy, runReference, type StepJob, voltsOf } from '../reference/tools.ts'
import { asTrace, inputOf, overdrive } from '../reference/waves.ts'
import { type Figure, medianOf, timeRuns } from './report.ts'

/** Turns in which the sides take their times alternately; the median of the turns' ratios is the figure. */
const TURNS = 7
const wave = overdrive(0.1, 2e-3, 6e-3)

/** A typical capture: 0.05 s before and 0.25 s after at 50 kS/s, 16-bit codes with noise. */
function typical(rateHz: number) {
  const made = asTrace(wave, { rateHz, preS: 0.05, postS: 0.25, noiseV: 0.002, int16: true })
  return inputOf(made)
}

const theirMs = (timing: Record<string, unknown> | undefined) => 1000 * Number(timing?.['processor'])

/** Processor time of one measurement, ms, of all threads of the process: what else runs on the machine hardly counts. */
function processorMs(work: () => void, runs: number): number {
  for (let i = 0; i < 50; i++) work()
  const before = process.cpuUsage()
  for (let i = 0; i < runs; i++) work()
  const { user, system } = process.cpuUsage(before)
  return (user + system) / 1000 / runs
}
const list = (values: readonly number[]): string => values.map((value) => value.toFixed(1)).join(', ')

export function againstReference(): Figure[] {
  if (!hasScipy()) return []
  const input = typical(50_000)
  timeRuns(() => measureCapture(input), 0, 2000)
  const job: StepJob = { ...DEFAULT_STEP, plateaus: true, gaussian: true, runs: 30 }
  const one = [{ job, values: voltsOf(input.trace) }]
  // Ours before and after each of theirs, so that a machine whose speed drifts favours neither.
  const ours = (): number => processorMs(() => measureCapture(input), 400)
  const turns = Array.from({ length: TURNS }, () => {
    const first = ours()
    const kept = theirMs(runReference(one, true)[0])
    const second = ours()
    const whole = theirMs(runReference(one, true, 'vectorised.py')[0])
    const third = ours()
    return {
      kept,
      whole,
      ours: second,
      keptRatio: (2 * kept) / (first + second),
      wholeRatio: (2 * whole) / (second + third),
    }
  })
  const median = (of: (turn: (typeof turns)[number]) => number): number => medianOf(turns.map(of))
  const mine = `${median((turn) => turn.ours).toFixed(3)} ms`
  return [
    {
      what: 'full measurement of 15,000 samples, one thread, against the kept numpy/scipy reference',
      value: median((turn) => turn.keptRatio),
      unit: '× faster',
      relation: 'at least',
      bound: 5,
      detail:
        `${mine} against ${median((turn) => turn.kept).toFixed(3)} ms, processor time, median of ${TURNS} turns ` +
        `(${list(turns.map((turn) => turn.keptRatio))}); the reference leaves out doubts and uncertainties and fits its Gaussian edge by a general routine`,
    },
    {
      what: 'the same against a plainly vectorised numpy/scipy program that skips no step',
      value: median((turn) => turn.wholeRatio),
      unit: '× faster',
      relation: 'at least',
      bound: 2.5,
      detail: `${mine} against ${median((turn) => turn.whole).toFixed(3)} ms of processor time, median of ${TURNS} turns (${list(turns.map((turn) => turn.wholeRatio))})`,
    },
  ]
}

export function byLength(): Figure[] {
  const lengths = [1000, 15_000, 1_000_000] as const
  const inputs = lengths.map((count) => typical(count / 0.3))
  inputs.forEach((input, i) => timeRuns(() => measureCapture(input), 0, Math.min(3000, 3e7 / (lengths[i] as number))))
  const turns = Array.from({ length: TURNS }, () =>
    inputs.map((input, i) => {
      const runs = Math.max(8, Math.min(1000, Math.round(3e6 / (lengths[i] as number))))
      return medianOf(timeRuns(() => measureCapture(input), runs, 3))
    }),
  )
  const times = lengths.map((_, i) => medianOf(turns.map((turn) => turn[i] as number)))
  const [short = 0, typicalMs = 0, long = 0] = times
  const ratios = turns.map(([, middle = 0, last = 0]) => last / middle / (1_000_000 / 15_000))
  return [
    {
      what: '1,000,000 samples against sixty-seven times 15,000',
      value: medianOf(ratios),
      unit: '×',
      relation: 'at most',
      bound: 1.2,
      detail: `${long.toFixed(1)} ms against ${typicalMs.toFixed(3)} ms, median of ${TURNS} turns (${ratios.map((one) => one.toFixed(2)).join(', ')})`,
    },
    {
      what: '1,000 samples alone',
      value: 1000 * short,
      unit: 'µs',
      relation: 'at most',
      bound: 80,
      detail: `median of ${TURNS} medians (${turns.map(([first = 0]) => (1000 * first).toFixed(0)).join(', ')})`,
    },
  ]
}
