import { hertz } from '#shared/domain/quantity-text.ts'
import { rowsOf } from '#shared/domain/record-kinds.ts'
import type { Reading } from '#shared/domain/reading.ts'
import {
  delayDistribution,
  LEAST_EVENTS,
  meanDifference,
  type DelayDifference,
  type DelayDistribution,
} from '#shared/latency/distribution.ts'
import { newest, quantityOf, type RecordFigure, type RecordQuantity } from './quantity.ts'

/** Delays in ms. */
export interface LatencyPart {
  readonly quantity: RecordQuantity
  readonly refreshHz: number | null
  readonly delaysMs: readonly number[]
  readonly display: DelayDistribution | null
  readonly reference: DelayDistribution | null
  /** The display's own delay with its response to half of the step. */
  readonly signalDelay: DelayDifference | null
}

interface Events {
  readonly reading: Reading
  readonly refreshHz: number
  readonly delaysMs: readonly number[]
  readonly distribution: DelayDistribution | null
}

function eventsOf(reading: Reading | undefined): Events | null {
  if (reading === undefined) return null
  const rows = rowsOf(reading)
  const refreshHz = rows[0]?.[0] ?? Number.NaN
  if (rows.some(([hz]) => hz !== refreshHz)) return null
  const delaysMs = rows.map(([, delay]) => delay as number)
  return { reading, refreshHz, delaysMs, distribution: delayDistribution(delaysMs, 1000 / refreshHz) }
}

export function latencyPart(readings: readonly Reading[]): LatencyPart {
  const [measured, reference] = [newest(readings, 'input-latency'), newest(readings, 'input-latency-reference')]
  const [own, ref] = [eventsOf(measured), eventsOf(reference)]
  const display = own?.distribution ?? null
  const comparable = own !== null && ref !== null && own.refreshHz === ref.refreshHz
  const referenceDelays = comparable ? ref.distribution : null
  const signalDelay = display === null || referenceDelays === null ? null : meanDifference(display, referenceDelays)
  const figures: RecordFigure[] = []
  const missing: string[] = []
  if (measured !== undefined && own === null)
    missing.push('The events are of several refresh rates; enter each by itself.')
  if (own !== null && display !== null) {
    const frame = 1000 / own.refreshHz
    if (signalDelay !== null) {
      figures.push(
        {
          label: 'Signal delay with response to 50 %',
          value: signalDelay.value,
          unit: 'ms',
          u95: signalDelay.u95,
          note: 'Display minus reference run: the host’s share is in both.',
        },
        {
          label: 'Signal delay and mean frame wait',
          value: signalDelay.value + frame / 2,
          unit: 'ms',
          u95: signalDelay.u95,
          note: `Half a frame at ${hertz(own.refreshHz)} Hz is ${(frame / 2).toFixed(2)} ms.`,
        },
        {
          label: 'Host, wait and reference',
          value: (referenceDelays as DelayDistribution).mean,
          unit: 'ms',
          u95: (referenceDelays as DelayDistribution).u95,
          note: 'The reference run by itself.',
        },
      )
    }
    figures.push({
      label: 'Event to light, mean',
      value: display.mean,
      unit: 'ms',
      u95: display.u95,
      note: `${display.n} events at ${hertz(own.refreshHz)} Hz, host and frame wait included.`,
    })
    for (const { q, value, low, high } of display.percentiles)
      if (q === 0.5 || q === 0.95)
        figures.push({
          label: `Event to light, ${Math.round(100 * q)} % of events within`,
          value,
          unit: 'ms',
          u95: null,
          note: `95 % interval ${low === null ? 'open' : low.toFixed(2)} to ${high === null ? 'open' : high.toFixed(2)} ms, by order of the events.`,
        })
    if (display.n < LEAST_EVENTS) missing.push(`${display.n} of at least ${LEAST_EVENTS} events.`)
    if (ref === null) missing.push('A reference run, to tell the display’s share from the host’s.')
    else if (!comparable)
      missing.push(`A reference run at ${hertz(own.refreshHz)} Hz; it is at ${hertz(ref.refreshHz)} Hz.`)
  } else if (missing.length === 0) missing.push('Events from input to light.')
  return {
    quantity: quantityOf(
      'latency',
      'Input latency',
      own === null ? ['input-latency', 'input-latency-reference'] : ['input-latency-reference', 'input-latency'],
      [measured, reference],
      figures,
      missing,
    ),
    refreshHz: own?.refreshHz ?? null,
    delaysMs: own?.delaysMs ?? [],
    display,
    reference: referenceDelays,
    signalDelay,
  }
}
