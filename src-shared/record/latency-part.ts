import { hertz } from '#shared/domain/quantity-text.ts'
import { rowsOf, type RecordKindId } from '#shared/domain/record-kinds.ts'
import type { Reading } from '#shared/domain/reading.ts'
import {
  delayDistribution,
  LEAST_EVENTS,
  meanDifference,
  type DelayDifference,
  type DelayDistribution,
} from '#shared/latency/distribution.ts'
import { blockOf } from '#shared/latency/blocks.ts'
import { presentationOf, type HeightRun, type Presentation } from '#shared/latency/heights.ts'
import { listedFigure, ownEstimate, type RecordFigure } from './figures.ts'
import { quantityOf, type RecordQuantity } from './quantity.ts'

/** Delays in ms. */
export interface LatencyPart {
  readonly quantity: RecordQuantity
  readonly refreshHz: number | null
  readonly delaysMs: readonly number[]
  readonly display: DelayDistribution | null
  readonly reference: DelayDistribution | null
  /** The display's own delay with its response to half of the step. */
  readonly signalDelay: DelayDifference | null
  /** From runs at several heights; null where there are none. */
  readonly presentation: Presentation | null
}

interface Events {
  readonly reading: Reading
  readonly refreshHz: number
  /** Null where it was typed in. */
  readonly row: number | null
  readonly delaysMs: readonly number[]
  readonly distribution: DelayDistribution | null
  /** Event to first light, and from there to half of the step; null where only half of the step is known. */
  readonly onset: DelayDistribution | null
  readonly response: DelayDistribution | null
}

const OWN: readonly RecordKindId[] = ['input-latency', 'input-latency-run']
const REFERENCE: readonly RecordKindId[] = ['input-latency-reference', 'input-latency-run-reference']
/** Heights this close together count as the same. */
const SAME_ROW = 0.05

const readable = (readings: readonly Reading[], kinds: readonly RecordKindId[]): Reading[] =>
  readings
    .filter(({ kind, hidden }) => !hidden && kinds.some((id) => id === kind))
    .filter((one) => rowsOf(one).length > 0)

function eventsOf(reading: Reading | undefined): Events | null {
  if (reading === undefined) return null
  const rows = rowsOf(reading)
  const refreshHz = rows[0]?.[0] ?? Number.NaN
  if (rows.some(([hz]) => hz !== refreshHz)) return null
  const frame = 1000 / refreshHz
  if (rows[0]?.length === 2) {
    const delaysMs = rows.map(([, delay]) => delay as number)
    const distribution = delayDistribution(delaysMs, frame)
    return { reading, refreshHz, row: null, delaysMs, distribution, onset: null, response: null }
  }
  const delaysMs = rows.map(([, , , half]) => half as number)
  return {
    reading,
    refreshHz,
    row: rows[0]?.[1] ?? null,
    delaysMs,
    distribution: delayDistribution(delaysMs, frame),
    onset: delayDistribution(
      rows.map(([, , onset]) => onset as number),
      frame,
    ),
    response: delayDistribution(
      rows.map(([, , onset = 0, half = 0]) => half - onset),
      frame,
    ),
  }
}

/** Newest runs at each height, of the refresh rate of the newest of all. */
function heightsOf(readings: readonly Reading[], refreshHz: number): HeightRun[] {
  const runs: HeightRun[] = []
  const own = readable(readings, ['input-latency-run'])
  for (let i = own.length - 1; i >= 0; i--) {
    const events = eventsOf(own[i])
    if (events === null || events.distribution === null || events.row === null || events.refreshHz !== refreshHz)
      continue
    const { row, distribution } = events
    if (runs.every((run) => Math.abs(run.row - row) > SAME_ROW)) runs.push({ row, delays: distribution })
  }
  return runs.sort((a, b) => a.row - b.row)
}

/** The run nearest to the middle of the screen among the newest of their refresh rate stands for the display. */
function standing(readings: readonly Reading[], kinds: readonly RecordKindId[]): Reading | undefined {
  const own = readable(readings, kinds)
  const last = own.at(-1)
  const newest = eventsOf(last)
  if (newest === null || newest.row === null) return last
  const offCentre = (reading: Reading): number => Math.abs((rowsOf(reading)[0]?.[1] ?? Infinity) - 0.5)
  return own
    .filter((reading) => reading.kind === newest.reading.kind && eventsOf(reading)?.refreshHz === newest.refreshHz)
    .reduce((best, reading) => (offCentre(reading) <= offCentre(best) ? reading : best))
}

/** Display, reference, display of one go; null where the run that stands for the display is not one of them. */
function interleaved(readings: readonly Reading[], measured: Reading | undefined): Interleaved | null {
  const blocks = readable(readings, ['input-latency-run', 'input-latency-run-reference'])
  const at = blocks.findIndex(({ id }) => id === measured?.id)
  const from = at - (blockOf(measured?.place ?? '') === 'last' ? 2 : 0)
  const [first, reference, last] = blocks.slice(Math.max(0, from), from + 3)
  if (first === undefined || reference === undefined || last === undefined || at < 0 || from < 0) return null
  const places = [first, reference, last].map(({ place }) => blockOf(place))
  if (places.join(' ') !== 'first reference last') return null
  const [a, b, both] = [
    eventsOf(first),
    eventsOf(last),
    eventsOf({ ...last, series: [...(first.series ?? []), ...(last.series ?? [])] }),
  ]
  if (a?.distribution == null || b?.distribution == null || both === null) return null
  return { own: both, reference, drift: meanDifference(b.distribution, a.distribution) }
}

interface Interleaved {
  /** The events of both runs on the display. */
  readonly own: Events
  readonly reference: Reading
  /** Last run minus first. */
  readonly drift: DelayDifference
}

const sameRow = (a: Events, b: Events): boolean =>
  a.row === null || b.row === null || Math.abs(a.row - b.row) <= SAME_ROW

/** The run that stands for the reference: the newest at the display's refresh rate and height, else the newest. */
function referenceFor(readings: readonly Reading[], own: Events | null): Reading | undefined {
  const all = readable(readings, REFERENCE)
  const alike = all.filter((reading) => {
    const events = eventsOf(reading)
    return own !== null && events !== null && events.refreshHz === own.refreshHz && sameRow(own, events)
  })
  return alike.at(-1) ?? all.at(-1)
}

export function latencyPart(readings: readonly Reading[]): LatencyPart {
  const measured = standing(readings, OWN)
  const together = interleaved(readings, measured)
  const own = together?.own ?? eventsOf(measured)
  const reference = together?.reference ?? referenceFor(readings, own)
  const ref = eventsOf(reference)
  const display = own?.distribution ?? null
  const sameRate = own !== null && ref !== null && own.refreshHz === ref.refreshHz
  const comparable = sameRate && sameRow(own, ref)
  const referenceDelays = comparable ? ref.distribution : null
  const signalDelay = display === null || referenceDelays === null ? null : meanDifference(display, referenceDelays)
  const heights = own === null ? [] : heightsOf(readings, own.refreshHz)
  const presentation = own === null ? null : presentationOf(heights, 1000 / own.refreshHz)
  const figures: RecordFigure[] = []
  const missing: string[] = []
  if (measured !== undefined && own === null)
    missing.push('The events are of several refresh rates; enter each by itself.')
  if (own !== null && display !== null) {
    if (signalDelay !== null && referenceDelays !== null && ref !== null)
      figures.push(...ownShare(own, ref, display, referenceDelays, signalDelay))
    if (own.response !== null)
      figures.push({
        label: 'Response, first light to half of the step',
        value: own.response.mean,
        unit: 'ms',
        u95: own.response.u95,
        note: 'Not a delay: how slowly the light itself changes.',
      })
    figures.push({
      label: 'Event to light, mean',
      value: display.mean,
      unit: 'ms',
      u95: display.u95,
      note: `${display.n} events at ${hertz(own.refreshHz)} Hz, host and frame wait included.${common(own.reading)}`,
    })
    for (const { q, value, low, high } of display.percentiles)
      if (q === 0.5 || q === 0.95)
        figures.push({
          label: `Event to light, ${Math.round(100 * q)} % of events within`,
          value,
          unit: 'ms',
          u95: null,
          note: intervalText(low, high),
        })
    if (presentation !== null)
      figures.push(
        ...heights.map(({ row, delays }) => ({
          label: `Event to light, mean at ${Math.round(100 * row)} % of the height from the top`,
          value: delays.mean,
          unit: 'ms',
          u95: delays.u95,
          note: `${delays.n} events.`,
        })),
      )
    if (presentation !== null)
      figures.push({
        label: 'Later at the bottom than at the top',
        value: presentation.slope,
        unit: 'ms',
        u95: presentation.u95,
        note: PRESENTATION[presentation.verdict],
      })
    if (together !== null)
      figures.push({
        label: 'Drift, last run on the display minus first',
        value: together.drift.value,
        unit: 'ms',
        u95: together.drift.u95,
        note:
          Math.abs(together.drift.value) > together.drift.u95
            ? 'The host or the display drifted between them. What is even of it cancels in the difference, what is not does not.'
            : 'No drift is seen; an even one cancels in the difference.',
      })
    if (display.n < LEAST_EVENTS) missing.push(`${display.n} of at least ${LEAST_EVENTS} events.`)
    if (ref === null) missing.push('A reference run, to tell the display’s share from the host’s.')
    else if (sameRate && !comparable)
      missing.push('A reference run at the height of the display’s own: they are scanned at different times.')
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
    presentation,
  }
}

/** What is the same in every event and does not average; a bound, since it holds what varies too. */
const common = ({ u }: Reading): string =>
  u === null
    ? ''
    : ` What all events share, such as where the edge falls between two samples, adds at most u = ${u.toFixed(3)} ms.`

function intervalText(low: number | null, high: number | null): string {
  if (low === null && high === null) return 'Too few events for an interval.'
  const from = low === null ? 'without lower end' : `from ${low.toFixed(2)} ms`
  const to = high === null ? 'without upper end' : `to ${high.toFixed(2)} ms`
  return `95 % interval ${from} ${to}, from order statistics.`
}

const PRESENTATION = {
  synchronised: 'The picture is scanned from top to bottom: presentation is synchronised.',
  tearing: 'All heights are alike: the picture tears, or the backlight flashes.',
  'cannot-tell': 'Too uncertain to tell synchronised presentation from tearing; more events at each height tell.',
} as const

/** The display's own part, and what it adds up to with the mean wait for a frame. */
function ownShare(
  own: Events,
  ref: Events,
  display: DelayDistribution,
  reference: DelayDistribution,
  signalDelay: DelayDifference,
): RecordFigure[] {
  const frame = 1000 / own.refreshHz
  const wait = `Half a frame at ${hertz(own.refreshHz)} Hz is ${(frame / 2).toFixed(2)} ms.`
  const { u, dof } = signalDelay
  const conditions = { refresh: `${hertz(own.refreshHz)} Hz`, by: own.row === null ? 'typed' : 'rig' }
  const figures: RecordFigure[] = []
  if (own.onset !== null && ref.onset !== null) {
    const delay = meanDifference(own.onset, ref.onset)
    const total = meanDifference(display, ref.onset)
    figures.push(
      {
        label: 'Signal delay, to first light',
        value: delay.value,
        unit: 'ms',
        u95: delay.u95,
        note: 'Display minus reference run, without the response of either.',
      },
      {
        label: 'Total of signal delay, mean frame wait and response',
        value: total.value + frame / 2,
        unit: 'ms',
        u95: total.u95,
        note: `${wait} The host’s share is not in it.`,
      },
    )
  }
  figures.push(
    listedFigure('signal_delay_ms', ownEstimate(signalDelay.value, u, dof), conditions, {
      note: 'Display minus reference run: the host’s share is in both.',
    }),
    listedFigure('total_latency_ms', ownEstimate(signalDelay.value + frame / 2, u, dof), conditions, { note: wait }),
    {
      label: 'Host, wait and reference',
      value: reference.mean,
      unit: 'ms',
      u95: reference.u95,
      note: 'The reference run by itself.',
    },
  )
  return figures
}

/** How the delays spread beside the wait for one frame, as sentences. */
export function waitText({ n, shape: { distance, p, late, verdict } }: DelayDistribution): string {
  const words = {
    'one-frame': 'The spread agrees with the wait for one frame.',
    narrower: 'The spread is narrower than the wait for one frame: the events fell into step with the frames.',
    wider: 'The spread is not the wait for one frame alone: jitter, drift or queued frames.',
  }[verdict]
  const queued =
    late === 0
      ? 'No event came more than one and a half frames after the first.'
      : `${late} of ${n} events came more than one and a half frames after the first: whole frames were queued for them.`
  return `${words} (Kolmogorov–Smirnov: D ${distance.toFixed(3)}, p ${p < 0.01 ? 'under 0.01' : p.toFixed(2)}.) ${queued}`
}
