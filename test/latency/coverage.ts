/** How often the stated intervals of a latency run hold the truth, over many invented campaigns of known delay. */
import { delayDistribution, meanDifference, type DelayDistribution } from '#shared/latency/distribution.ts'
import { eventLight } from '#shared/latency/event.ts'
import {
  drawEvent,
  eventRecord,
  normalValues,
  trueMean,
  trueQuantile,
  uniformSource,
  type EventModel,
} from './closed-form.ts'

/** Delays of the display beside those of the reference, ms. */
export const DISPLAY = { hostMs: 2.1, pollMs: 1, signalDelayMs: 5.4, tauMs: 1.5 }
export const REFERENCE = { hostMs: 2.1, pollMs: 1, signalDelayMs: 0.3, tauMs: 0.4 }
const RECORD = { sampleRateHz: 10_000, beforeS: 0.005, afterS: 0.05, noiseV: 0.004 }

export interface CoverageRow {
  readonly refreshHz: number
  readonly quantity: string
  readonly held: number
  readonly campaigns: number
}

interface Run {
  readonly half: DelayDistribution
  readonly onset: DelayDistribution
  readonly unclear: number
}

function runOf(model: EventModel, events: number, normal: Float32Array, uniform: () => number): Run {
  const [half, onset]: [number[], number[]] = [[], []]
  let unclear = 0
  for (let k = 0; k < events; k++) {
    const { trace, triggerIndex } = eventRecord(drawEvent(model, uniform), model.tauMs, { ...RECORD, normal }, uniform)
    const light = eventLight(trace, triggerIndex)
    if (typeof light === 'string') unclear++
    else {
      half.push(1000 * light.halfS)
      onset.push(1000 * light.onsetS)
    }
  }
  const [a, b] = [half, onset].map((delays) => delayDistribution(delays, 1000 / model.refreshHz))
  if (a == null || b == null) throw new Error('no delays')
  return { half: a, onset: b, unclear }
}

export function coverage(
  rates: readonly number[],
  campaigns: number,
  events: number,
  seed: number,
): { readonly rows: readonly CoverageRow[]; readonly unclear: number } {
  const normal = normalValues(200_000, uniformSource(seed + 1000))
  const uniform = uniformSource(seed)
  let unclear = 0
  const rows = rates.flatMap((refreshHz) => {
    const held = new Map<string, number>()
    const count = (quantity: string, holds: boolean): void => {
      held.set(quantity, (held.get(quantity) ?? 0) + (holds ? 1 : 0))
    }
    const [display, reference] = [
      { refreshHz, ...DISPLAY },
      { refreshHz, ...REFERENCE },
    ]
    for (let k = 0; k < campaigns; k++) {
      const own = runOf(display, events, normal, uniform)
      const ref = runOf(reference, events, normal, uniform)
      unclear += own.unclear + ref.unclear
      count('mean', Math.abs(own.half.mean - trueMean(display)) <= own.half.u95)
      for (const { q, low, high } of own.half.percentiles) {
        const truth = trueQuantile(display, q)
        count(`${100 * q} %`, (low ?? -Infinity) <= truth && truth <= (high ?? Infinity))
      }
      const delay = meanDifference(own.half, ref.half)
      count(
        'signal delay with response',
        Math.abs(delay.value - (trueMean(display) - trueMean(reference))) <= delay.u95,
      )
    }
    return [...held].map(([quantity, n]) => ({ refreshHz, quantity, held: n, campaigns }))
  })
  return { rows, unclear }
}
