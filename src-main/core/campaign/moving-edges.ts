/** What a tracking eye gets of an edge, for every setting at one refresh rate, from the mean of the repeats. */
import type { Ladder, Sweep } from '#shared/domain/capture.ts'
import type { StoredInput } from '#shared/domain/stored.ts'
import type { MatrixData } from '#shared/domain/views.ts'
import { type EdgePicture, type EdgeSet, movingEdge } from '#shared/findings/campaign/moving-edge.ts'

interface EdgeSweep {
  readonly sweep: Pick<Sweep, 'setting' | 'refreshHz'> & { readonly ladder: Ladder | null }
  readonly matrix: MatrixData
}

interface InputReader {
  inputs(captureIds: readonly number[]): Promise<readonly Pick<StoredInput, 'trace' | 'triggerIndex'>[]>
}

export interface EdgeQuestion {
  readonly refreshHz: number
  /** Levels of the edge, codes; without them a step that overdrive can act on. */
  readonly levels?: readonly [number, number] | undefined
}

/** @returns null where nothing was measured at this rate; without pictures where no record keeps its phase to the frame. */
export async function edgesAt(
  store: InputReader,
  sweeps: readonly EdgeSweep[],
  { refreshHz, levels: asked }: EdgeQuestion,
): Promise<EdgeSet | null> {
  const own = sweeps.filter(({ sweep }) => sweep.refreshHz === refreshHz)
  const levels = own[0]?.matrix.levels ?? []
  // From end to end every setting drives alike: there is nothing left to boost.
  const [from, to] = asked ?? (levels.length < 4 ? [levels[0], levels.at(-1)] : [levels[1], levels.at(-2)])
  if (from === undefined || to === undefined) return null
  const pictures = (await Promise.all(own.map((one) => edgeOf(store, one, from, to)))).flat()
  const peak = pictures.reduce((most, { edge }) => edge.light.reduce((a, b) => Math.max(a, b), most), 0)
  return { refreshHz, from, to, levels, peak, pictures: peak > 0 ? pictures : [] }
}

const EDGE_FRAMES = 4
const EDGE_POINTS = 400

async function edgeOf(
  store: InputReader,
  { sweep, matrix }: EdgeSweep,
  from: number,
  to: number,
): Promise<EdgePicture[]> {
  const entries = matrix.cells.find((cell) => cell.from === from && cell.to === to)?.entries ?? []
  const inputs = await store.inputs(entries.filter(({ excluded }) => !excluded).map(({ captureId }) => captureId))
  const first = inputs[0]
  // Only a record that the light edge triggered keeps its phase to the frame; others would be averaged out of step.
  if (first === undefined || first.triggerIndex <= 0) return []
  const { sampleRateHz } = first.trace
  const alike = inputs.filter((one) => one.triggerIndex > 0 && one.trace.sampleRateHz === sampleRateHz)
  const frameS = 1 / sweep.refreshHz
  // The answer begins one frame after the record: two frames before the switch show one of the old picture.
  const before = Math.min(...alike.map(({ triggerIndex }) => triggerIndex), Math.floor(2 * frameS * sampleRateHz))
  const after = Math.min(
    ...alike.map(({ triggerIndex, trace }) => trace.samples.length - triggerIndex),
    Math.floor(EDGE_FRAMES * frameS * sampleRateHz),
  )
  const dark = sweep.ladder?.darkV ?? 0
  const mean = new Float64Array(before + after)
  for (const { trace, triggerIndex } of alike)
    for (let i = 0; i < mean.length; i++)
      mean[i] =
        (mean[i] as number) +
        ((trace.samples[triggerIndex - before + i] as number) * trace.scaleV + trace.offsetV - dark) / alike.length
  if (mean.length / sampleRateHz <= 1.5 * frameS || after / sampleRateHz <= 0.5 * frameS) return []
  const edge = movingEdge(mean, 1 / sampleRateHz, -before / sampleRateHz, frameS, EDGE_POINTS)
  return [{ name: sweep.setting, edge }]
}
