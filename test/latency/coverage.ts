/** How often the stated intervals of a latency run hold the truth, over many invented campaigns of known delay. */
import { delayDistribution, meanDifference, type DelayDistribution } from '#shared/latency/distribution.ts'
import { eventLight } from '#shared/latency/event.ts'
import { SHAPE_ALARM } from '#shared/latency/wait-shape.ts'
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

/** Delays of so many events in ms, and how many had no clear light. */
type Events = (
  model: EventModel,
  events: number,
  uniform: () => number,
) => { readonly delays: number[]; readonly unclear: number }

/** Every event as a record of its own, measured by the program. */
export function recordedEvents(normal: Float32Array): Events {
  return (model, events, uniform) => {
    const delays: number[] = []
    let unclear = 0
    for (let k = 0; k < events; k++) {
      const { trace, triggerIndex } = eventRecord(
        drawEvent(model, uniform),
        model.tauMs,
        { ...RECORD, normal },
        uniform,
      )
      const light = eventLight(trace, triggerIndex)
      if (typeof light === 'string') unclear++
      else delays.push(1000 * light.halfS)
    }
    return { delays, unclear }
  }
}

/** Only the delays, with the event's edge anywhere within the sample that counts as its own. */
export const drawnEvents: Events = (model, events, uniform) => ({
  delays: Array.from(
    { length: events },
    () => drawEvent(model, uniform).halfMs + (1000 * (uniform() - 0.5)) / RECORD.sampleRateHz,
  ),
  unclear: 0,
})

function distributionOf(delays: readonly number[], { refreshHz }: EventModel): DelayDistribution {
  const found = delayDistribution(delays, 1000 / refreshHz)
  if (found === null) throw new Error('no delays')
  return found
}

export function coverage(
  rates: readonly number[],
  campaigns: number,
  events: number,
  seed: number,
  taken: Events = recordedEvents(normalValues(200_000, uniformSource(seed + 1000))),
): { readonly rows: readonly CoverageRow[]; readonly unclear: number } {
  const uniform = uniformSource(seed)
  let unclear = 0
  const run = (model: EventModel): DelayDistribution => {
    const found = taken(model, events, uniform)
    unclear += found.unclear
    return distributionOf(found.delays, model)
  }
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
      const [own, ref] = [run(display), run(reference)]
      count('mean', Math.abs(own.mean - trueMean(display)) <= own.u95)
      for (const { q, low, high } of own.percentiles) {
        const truth = trueQuantile(display, q)
        count(`${100 * q} %`, (low ?? -Infinity) <= truth && truth <= (high ?? Infinity))
      }
      const delay = meanDifference(own, ref)
      count(
        'signal delay with response',
        Math.abs(delay.value - (trueMean(display) - trueMean(reference))) <= delay.u95,
      )
    }
    return [...held].map(([quantity, n]) => ({ refreshHz, quantity, held: n, campaigns }))
  })
  return { rows, unclear }
}

/** How many of so many runs, in which a frame's wait and a poll are all there is, are said not to be one frame's wait. */
export function shapeAlarms(pollMs: number, refreshHz: number, runs: number, events: number, seed: number): number {
  const uniform = uniformSource(seed)
  const model = { refreshHz, hostMs: 2, pollMs, signalDelayMs: 5, tauMs: 0 }
  let alarms = 0
  for (let k = 0; k < runs; k++) {
    const delays = Array.from({ length: events }, () => drawEvent(model, uniform).halfMs)
    if (distributionOf(delays, model).shape.p < SHAPE_ALARM) alarms++
  }
  return alarms
}
