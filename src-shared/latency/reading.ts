/** A run of input latency as a reading of the display's record. */
import type { LatencyEvent, LatencyRun } from '#shared/domain/latency.ts'
import { newReadingSchema, type NewReading } from '#shared/domain/reading.ts'
import { recordKind, seriesOf } from '#shared/domain/record-kinds.ts'
import { mean } from '#shared/signal/statistics.ts'
import { blockText } from './blocks.ts'
import { eventLight, type EventLight } from './event.ts'

const rounded = (seconds: number): number => Math.round(1e7 * seconds) / 1e4

/**
 * The reading of a run from its raw records, so that anyone can make it again.
 * @returns null where fewer than two events have clear light.
 */
export async function latencyReading(
  run: Omit<LatencyRun, 'events' | 'readingId'>,
  events: AsyncIterable<LatencyEvent> | Iterable<LatencyEvent>,
): Promise<NewReading | null> {
  const { plan } = run
  const rows: number[][] = []
  const handlers: number[] = []
  const lights: EventLight[] = []
  let [squares, unclear, at] = [0, 0, run.startedAt]
  for await (const { trace, triggerIndex, second, handlerMs, takenAt } of events) {
    const light = eventLight(trace, triggerIndex, second)
    if (typeof light === 'string' || light.onsetS < 0) unclear += 1
    else {
      rows.push([plan.refreshHz, plan.row, rounded(light.onsetS), rounded(light.halfS)])
      squares += light.u ** 2
      lights.push(light)
    }
    if (handlerMs !== null) handlers.push(handlerMs)
    at = takenAt
  }
  if (rows.length < 2) return null
  const kind = plan.reference ? 'input-latency-run-reference' : 'input-latency-run'
  const { label, unit } = recordKind(kind)
  const patches = plan.reaction === 'one' ? 'one patch' : 'three patches'
  const handlerMs = mean(handlers)
  const host =
    handlerMs === null
      ? 'No page reacted: the host’s share is unknown.'
      : `From the event’s time stamp to the page’s code: mean ${handlerMs.toFixed(2)} ms, part of the host’s share.`
  return newReadingSchema.parse({
    campaignId: run.campaignId,
    kind,
    quantity: plan.note === '' ? label : plan.note.slice(0, 100),
    unit,
    series: seriesOf(kind, rows),
    u: 1000 * Math.sqrt(squares / rows.length),
    source: run.rigIdentity.slice(0, 200),
    place: `${Math.round(100 * plan.row)} % of the screen’s height from the top, ${patches}${plan.block === undefined ? '' : blockText(plan.block)}`,
    note: `Latency run ${run.id}: level ${plan.from} to ${plan.to}, pressed by ${plan.press === 'rig' ? 'the rig' : 'a person'}; ${unclear} events without clear light left out. ${[host, ...remarksOn(lights)].join(' ')}`,
    at,
  })
}

/** What is to be known of the events beside their delays. */
function remarksOn(lights: readonly EventLight[]): string[] {
  const pulses = lights.flatMap(({ pulseS }) => (pulseS === null ? [] : [pulseS]))
  const bounced = lights.filter(({ bounces }) => bounces > 0).length
  const pulseMs = mean(pulses)
  return [
    ...(pulseMs === null
      ? []
      : [
          `The light comes in pulses, ${(1000 * pulseMs).toFixed(2)} ms apart: times are to the first pulse of the new level; the display’s own change lies up to that much before.`,
        ]),
    ...(bounced === 0 ? [] : [`${bounced} events whose contact bounced; their first edge counts.`]),
  ]
}
