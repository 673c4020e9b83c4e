/** What the trace desk computes from single captures: pictures, spectra and previews. Nothing here is stored. */
import type { CaptureInfo, RawTrace, Sweep } from '#shared/domain/capture.ts'
import type { Overlay, OverlayTrace, SpectrumView } from '#shared/domain/desk.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { Result } from '#shared/domain/result.ts'
import type { Override, TraceView } from '#shared/domain/views.ts'
import type { LaidRecord } from '#shared/measure/pictures.ts'
import type { Draw, Measure } from './measure-apart.ts'
import { measureInputOf } from './measure-input.ts'
import type { StoredInput } from '#shared/domain/stored.ts'
import type { Store } from './ports.ts'
import { readInputs } from './read-inputs.ts'
import type { RecipeBook } from './recipes.ts'

interface View {
  readonly captureId: number
  readonly recipeHash: string
  readonly columns: number
  readonly fromS?: number | undefined
  readonly toS?: number | undefined
}

export interface Desk {
  trace(view: View): Promise<TraceView>
  overlay(view: View): Promise<Overlay>
  spectrum(request: { captureId: number; fromS: number; toS: number }): Promise<SpectrumView>
  previewOverride(captureId: number, recipeHash: string, override: Override): Promise<Result>
}

interface Loaded {
  readonly info: CaptureInfo
  readonly sweep: Sweep
  readonly trace: RawTrace
}

export interface DeskDeps {
  readonly store: Store
  readonly recipes: RecipeBook
  readonly measure: Measure
  readonly draw: Draw
}

export function createDesk({ store, recipes, measure, draw }: DeskDeps): Desk {
  /** The capture looked at last: a drag asks for the same one again and again. Raw data never changes. */
  let held: Loaded | null = null

  async function load(captureId: number): Promise<Loaded> {
    if (held?.info.id === captureId) return held
    const info = await store.capture(captureId)
    const [sweep, trace] = await Promise.all([store.sweep({ sweepId: info.sweepId }), store.trace(captureId)])
    const loaded = { info, sweep, trace }
    if (sweep.ladder !== null || sweep.origin === 'imported') held = loaded
    return loaded
  }

  async function inputOf(captureId: number, recipe: Recipe): Promise<{ info: CaptureInfo; input: MeasureInput }> {
    const { info, sweep, trace } = await load(captureId)
    return { info, input: measureInputOf(info, sweep, trace, recipe) }
  }

  /** The record and the crossing of the result that counts; null when it has no crossing. */
  async function laid(stored: StoredInput, input: MeasureInput, hash: string): Promise<LaidRecord | null> {
    const result =
      (await store.result(stored.captureId, hash)) ?? (await measure({ ...input, override: stored.override }))
    const { crossMidS } = result.landmarks
    return crossMidS === null ? null : { input, crossMidS }
  }

  async function overlay({ captureId, recipeHash, columns, fromS, toS }: View): Promise<Overlay> {
    const recipe = recipes.get(recipeHash)
    const [[stored], repeats] = await Promise.all([store.inputs([captureId]), store.repeats(captureId)])
    if (stored === undefined) throw new AppError('not-found', `Capture ${captureId} is not in the archive.`)
    const sweep = await store.sweep({ sweepId: stored.sweepId })
    const [start, end] = spanOf(stored.trace, fromS, toS)
    const part = { fromS: start, toS: end, columns }
    const input = measureInputOf(stored, sweep, stored.trace, recipe)
    const own = await laid(stored, input, recipeHash)
    if (own === null) {
      const { raw, conditioned } = await draw('trace', { input, ...part })
      return {
        captureId,
        alignedAtS: null,
        own: conditioned ?? raw,
        others: [],
        mean: null,
        residual: null,
        counted: 0,
        excluded: 0,
        note: 'This capture has no 50 % crossing, so there is nothing to align its repeats at.',
      }
    }
    const rest = new Map(repeats.filter((repeat) => repeat.captureId !== captureId).map((one) => [one.captureId, one]))
    const others: OverlayTrace[] = []
    const unaligned: number[] = []
    const damaged: number[] = []
    let picture = await draw('overlay', { own, others: [], state: null, ...part })
    for (let ids = [...rest.keys()]; ids.length > 0;) {
      const { stored: batch, unreadable, taken } = await readInputs(store, ids)
      damaged.push(...unreadable.map((one) => one.captureId))
      const found: { repeat: (typeof repeats)[number]; record: LaidRecord }[] = []
      for (const other of batch) {
        const repeat = rest.get(other.captureId)
        const record = await laid(other, measureInputOf(other, sweep, other.trace, recipe), recipeHash)
        if (repeat === undefined || record === null) unaligned.push(other.captureId)
        else found.push({ repeat, record })
      }
      const laidOver = found.map(({ repeat, record }) => ({ ...record, counts: repeat.counts }))
      picture = await draw('overlay', { own, others: laidOver, state: picture.state, ...part })
      for (const [k, drawn] of picture.others.entries()) {
        const repeat = found[k]?.repeat
        if (repeat !== undefined) others.push({ ...repeat, ...drawn })
      }
      ids = ids.slice(taken)
    }
    const { finished } = picture
    const counted = others.filter((other) => other.counts).length
    const notes = [
      ...(counted === 0 ? ['No other capture of this transition counts, so there is no mean to compare with.'] : []),
      ...(counted > 0 && finished === null ? ['No instant of this span is recorded in every repeat.'] : []),
      ...(finished !== null && !finished.whole ? ['The mean reaches as far as every repeat in it was recorded.'] : []),
      ...(unaligned.length > 0 ? [`Without a 50 % crossing and left out: capture ${unaligned.join(', ')}.`] : []),
      ...(damaged.length > 0 ? [`Damaged in the archive and left out: capture ${damaged.join(', ')}.`] : []),
    ]
    return {
      captureId,
      alignedAtS: own.crossMidS,
      own: picture.own,
      others,
      mean: finished?.mean ?? null,
      residual: finished?.residual ?? null,
      counted,
      excluded: others.length - counted,
      note: notes.join(' '),
    }
  }

  return {
    overlay,
    async trace({ captureId, recipeHash, columns, fromS, toS }) {
      const { info, input } = await inputOf(captureId, recipes.get(recipeHash))
      const { trace } = input
      const [start, end] = spanOf(trace, fromS, toS)
      const picture = await draw('trace', { input, fromS: start, toS: end, columns })
      return {
        info,
        refreshHz: input.refreshHz ?? 0,
        rangeV: trace.rangeV,
        ...picture,
      }
    },
    async spectrum({ captureId, fromS, toS }) {
      const { trace, sweep } = await load(captureId)
      const [start, end] = spanOf(trace, fromS, toS)
      const result = await store.result(captureId, recipes.currentHash())
      const known = { refreshHz: sweep.plan.refreshHz, rippleHz: result?.values.ripple_frequency_hz ?? null }
      const view = await draw('spectrum', { trace, fromS: start, toS: end, known })
      if (view === null)
        throw new AppError('invalid-input', 'A spectrum needs at least 16 samples.', 'Choose a longer span.')
      return view
    },
    async previewOverride(captureId, recipeHash, override) {
      const { input } = await inputOf(captureId, recipes.get(recipeHash))
      return measure({ ...input, override })
    },
  }
}

/** A span within the record, s; refuses one that ends before it begins. */
function spanOf(trace: RawTrace, fromS: number | undefined, toS: number | undefined): [number, number] {
  const [start, end] = [fromS ?? 0, toS ?? trace.samples.length / trace.sampleRateHz]
  if (!(end > start))
    throw new AppError(
      'invalid-input',
      'The end of the span lies before its start.',
      'Ask for a span with an end after its start.',
    )
  return [start, end]
}
