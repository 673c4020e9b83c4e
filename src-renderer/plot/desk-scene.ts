/**
 * What the large plot of the trace desk shows beyond a plain trace: the curve in the detail of the span in view, the
 * raw samples beside the conditioned ones, repeats laid over, refresh frames, level windows, what a flag points at and
 * the blur edge. Plain geometry in ms from the origin and in V; no canvas and no DOM.
 */
import type { Overlay } from '#shared/domain/desk.ts'
import type { Landmarks } from '#shared/domain/result.ts'
import type { Envelope, TraceView } from '#shared/domain/views.ts'
import type { BlurConstruction } from './blur-construction.ts'
import type { Curve } from './pixel-curve.ts'
import { columnTimes, type TraceScene } from './trace-scene.ts'

export interface DeskScene {
  readonly base: TraceScene
  readonly curve: Curve
  /** Samples before conditioning, where the recipe conditions and they are asked for. */
  readonly raw: Curve | null
  readonly repeats: readonly { readonly captureId: number; readonly counts: boolean; readonly curve: Curve }[]
  readonly mean: Curve | null
  /** Another capture laid over this one; null when none is. */
  readonly other: Curve | null
  /** Ends of refresh periods counted from onset; empty when they are not asked for or not known. */
  readonly frames: readonly { readonly ms: number; readonly frame: number }[]
  readonly windows: readonly { readonly kind: 'before' | 'after'; readonly fromMs: number; readonly toMs: number }[]
  readonly shaded: { readonly fromMs: number; readonly toMs: number; readonly label: string } | null
  readonly blur: DeskBlur | null
  /** Cursors stand on the plot: they need a row above it. */
  readonly cursors: boolean
}

export interface DeskBlur {
  readonly x: Float64Array
  readonly volts: Float32Array
  readonly startMs: number
  readonly endMs: number
  readonly startV: number
  readonly endV: number
  readonly label: string
}

/** Any other capture, laid over at the 50 % crossings of both, or at their triggers where one has none. */
interface OtherTrace {
  readonly trace: TraceView
  readonly landmarks: Landmarks | null
}

export interface DeskParts {
  readonly base: TraceScene
  /** Whole record, and the span in view in more detail where it has arrived. */
  readonly whole: TraceView
  readonly detail: TraceView | null
  readonly landmarks: Landmarks | null
  readonly overlay: Overlay | null
  readonly other: OtherTrace | null
  readonly blur: BlurConstruction | null
  readonly blurLabel: string
  readonly showRaw: boolean
  readonly showFrames: boolean
  readonly showWindows: boolean
  readonly showCursors: boolean
  /** s from the first sample. */
  readonly shaded: { readonly span: readonly [number, number]; readonly label: string } | null
}

/** One envelope as a curve; inside the detail's span the detail takes the place of the coarser columns. */
export function splice(whole: Envelope, detail: Envelope | null, originS: number): Curve {
  const x = columnTimes(whole, originS)
  const outer = { x, min: whole.min, max: whole.max }
  if (detail === null || detail.min.length === 0 || detail.stepS >= whole.stepS) return outer
  const inner = columnTimes(detail, originS)
  const first = inner[0] as number
  const last = inner[inner.length - 1] as number
  let before = 0
  while (before < x.length && (x[before] as number) < first) before += 1
  let after = x.length
  while (after > before && (x[after - 1] as number) > last) after -= 1
  const join = <T extends Float64Array | Float32Array>(make: (length: number) => T, outside: T, inside: T): T => {
    const joined = make(before + inside.length + x.length - after)
    joined.set(outside.subarray(0, before), 0)
    joined.set(inside, before)
    joined.set(outside.subarray(after), before + inside.length)
    return joined
  }
  return {
    x: join((length) => new Float64Array(length), x, inner),
    min: join((length) => new Float32Array(length), whole.min, detail.min),
    max: join((length) => new Float32Array(length), whole.max, detail.max),
  }
}

const curveOf = (envelope: Envelope, originS: number): Curve => ({
  x: columnTimes(envelope, originS),
  min: envelope.min,
  max: envelope.max,
})

/** Most frame ends that are marked: a longer ruler would be a grey area. */
const MOST_FRAMES = 400

export function framesOf(recordMs: readonly [number, number], refreshHz: number): DeskScene['frames'] {
  if (!(refreshHz > 0)) return []
  const frameMs = 1000 / refreshHz
  const first = Math.ceil(recordMs[0] / frameMs)
  const last = Math.min(Math.floor(recordMs[1] / frameMs), first + MOST_FRAMES)
  return Array.from({ length: Math.max(0, last - first + 1) }, (_, i) => ({
    ms: (first + i) * frameMs,
    frame: first + i,
  }))
}

/** Its first sample's place on the shown capture's origin, s, is the origin its own times count from. */
function otherOrigin(other: OtherTrace, whole: TraceView, landmarks: Landmarks | null, originS: number): number {
  const [own, its] = [landmarks?.crossMidS ?? null, other.landmarks?.crossMidS ?? null]
  if (own !== null && its !== null) return originS + its - own
  const trigger = ({ info }: TraceView) => info.triggerIndex / info.sampleRateHz
  return originS + trigger(other.trace) - trigger(whole)
}

/** Volts that also show what is laid over, so that one lying elsewhere is seen to do so. */
function widened([low, high]: readonly [number, number], others: readonly Envelope[]): readonly [number, number] {
  let [bottom, top] = [low, high]
  for (const envelope of others) {
    for (const volts of envelope.min) if (volts < bottom) bottom = volts
    for (const volts of envelope.max) if (volts > top) top = volts
  }
  return [bottom, top]
}

export function deskScene(parts: DeskParts): DeskScene {
  const { base, whole, detail, overlay, landmarks } = parts
  const { originS } = base
  const ms = (seconds: number) => (seconds - originS) * 1000
  const main = (view: TraceView | null) => (view === null ? null : (view.conditioned ?? view.raw))
  const hasRaw = parts.showRaw && whole.conditioned !== null
  const windows: DeskScene['windows'][number][] = []
  if (parts.showWindows && landmarks !== null) {
    for (const kind of ['before', 'after'] as const) {
      const window = kind === 'before' ? landmarks.beforeWindow : landmarks.afterWindow
      if (window !== null) windows.push({ kind, fromMs: ms(window[0]), toMs: ms(window[1]) })
    }
  }
  const blur = parts.blur
  const laid = main(parts.other?.trace ?? null)
  return {
    base: {
      ...base,
      voltsRange: widened(base.voltsRange, [
        ...(overlay?.others ?? []).map(({ envelope }) => envelope),
        ...(laid === null ? [] : [laid]),
      ]),
    },
    curve: splice(whole.conditioned ?? whole.raw, main(detail), originS),
    raw: hasRaw ? splice(whole.raw, detail?.raw ?? null, originS) : null,
    repeats: (overlay?.others ?? []).map(({ captureId, counts, envelope }) => ({
      captureId,
      counts,
      curve: curveOf(envelope, originS),
    })),
    mean: overlay?.mean == null ? null : curveOf(overlay.mean, originS),
    other:
      parts.other === null || laid === null ? null : curveOf(laid, otherOrigin(parts.other, whole, landmarks, originS)),
    frames: parts.showFrames && base.origin === 'onset' ? framesOf(base.recordMs, whole.refreshHz) : [],
    windows,
    cursors: parts.showCursors,
    shaded:
      parts.shaded === null
        ? null
        : { fromMs: ms(parts.shaded.span[0]), toMs: ms(parts.shaded.span[1]), label: parts.shaded.label },
    blur:
      blur === null
        ? null
        : {
            x: blur.timeS.map(ms),
            volts: blur.volts,
            startMs: ms(blur.startS),
            endMs: ms(blur.endS),
            startV: blur.startV,
            endV: blur.endV,
            label: parts.blurLabel,
          },
  }
}
