/** What a person looks at of whole records: pure, for whichever thread it is drawn on. */
import type { RawTrace } from '../domain/capture.ts'
import type { SpectrumView } from '../domain/desk.ts'
import type { MeasureInput } from '../domain/measure-input.ts'
import type { Envelope } from '../domain/views.ts'
import { envelopeOf } from '../signal/envelope.ts'
import { conditionedTrace } from './analysis.ts'
import { overlayOn, type AlignedTrace, type OverlayBuilder, type OverlayState, voltsEnvelope } from './overlay.ts'
import { type KnownRates, spanSpectrum } from './span-spectrum.ts'

/** Part of a record, s from its first sample, in at most so many columns. */
interface Part {
  readonly fromS: number
  readonly toS: number
  readonly columns: number
}

/** A record, and the instant of its 50 % crossing, s from its first sample. */
export interface LaidRecord {
  readonly input: MeasureInput
  readonly crossMidS: number
}

interface Requests {
  readonly envelope: Part & { readonly trace: RawTrace }
  /** As recorded, and as the recipe conditions it. */
  readonly trace: Part & { readonly input: MeasureInput }
  readonly spectrum: Omit<Part, 'columns'> & { readonly trace: RawTrace; readonly known: KnownRates }
  /** Some repeats laid over a record; `state` is what came of those before. */
  readonly overlay: Part & {
    readonly own: LaidRecord
    readonly others: readonly (LaidRecord & { readonly counts: boolean })[]
    readonly state: OverlayState | null
  }
}

interface Pictures {
  readonly envelope: Envelope
  /** `conditioned` is null where the recipe leaves the record as it is. */
  readonly trace: { readonly raw: Envelope; readonly conditioned: Envelope | null }
  /** Null for spans of fewer than 16 samples. */
  readonly spectrum: SpectrumView | null
  readonly overlay: {
    readonly own: Envelope
    readonly others: readonly ReturnType<OverlayBuilder['add']>[]
    readonly finished: ReturnType<OverlayBuilder['finish']>
    readonly state: OverlayState
  }
}

export type PictureKind = keyof Requests
export type PictureRequest<K extends PictureKind> = Requests[K]
export type Picture<K extends PictureKind = PictureKind> = Pictures[K]
export type PictureJob = { [K in PictureKind]: { readonly kind: K; readonly request: Requests[K] } }[PictureKind]

const DRAW: { readonly [K in PictureKind]: (request: Requests[K]) => Pictures[K] } = {
  envelope: ({ trace, fromS, toS, columns }) => envelopeOf(trace, fromS, toS, columns),
  trace({ input, fromS, toS, columns }) {
    const { trace, recipe } = input
    const volts = recipe.condition.kind === 'none' ? null : conditionedTrace(input)
    return {
      raw: envelopeOf(trace, fromS, toS, columns),
      conditioned: volts && voltsEnvelope(volts, trace.sampleRateHz, fromS, toS, columns),
    }
  },
  spectrum: ({ trace, fromS, toS, known }) => spanSpectrum(trace, fromS, toS, known),
  overlay({ own, others, fromS, toS, columns, state }) {
    const builder = overlayOn(aligned(own), fromS, toS, columns, state)
    const laid = others.map((other) => builder.add(aligned(other), other.counts))
    return { own: builder.own, others: laid, finished: builder.finish(), state: builder.state() }
  },
}

const aligned = ({ input, crossMidS }: LaidRecord): AlignedTrace => ({
  volts: conditionedTrace(input),
  sampleRateHz: input.trace.sampleRateHz,
  crossMidS,
})

export function draw<K extends PictureKind>(kind: K, request: PictureRequest<K>): Picture<K> {
  return DRAW[kind](request)
}

/** Samples a picture is drawn from. */
export function samplesOf(job: PictureJob): number {
  if (job.kind === 'overlay')
    return [job.request.own, ...job.request.others].reduce((sum, { input }) => sum + input.trace.samples.length, 0)
  return ('trace' in job.request ? job.request.trace : job.request.input.trace).samples.length
}
