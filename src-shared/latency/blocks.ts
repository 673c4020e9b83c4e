/** Display, reference, display: the blocks of an interleaved run, and how their readings are told apart. */
import { LATENCY_BLOCKS, type LatencyPlan } from '#shared/domain/latency.ts'

type Block = (typeof LATENCY_BLOCKS)[number]

const WORDS: Readonly<Record<Block, string>> = {
  first: 'first of display, reference, display',
  reference: 'between two runs on the display',
  last: 'last of display, reference, display',
}

/** What the place of a block's reading ends with. */
export const blockText = (block: Block): string => `, ${WORDS[block]}`

/** Null for a reading of a run by itself. */
export const blockOf = (place: string): Block | null =>
  LATENCY_BLOCKS.find((block) => place.endsWith(blockText(block))) ?? null

interface BlockPlan {
  readonly plan: LatencyPlan
  /** What a person has to do before it; empty before the first. */
  readonly asks: string
}

/** The runs that a plan asks for, in order. */
export function blocksOf(plan: LatencyPlan): BlockPlan[] {
  if (!plan.interleave) return [{ plan, asks: '' }]
  const half = Math.ceil(plan.events / 2)
  const block = (which: Block, events: number, asks: string): BlockPlan => ({
    asks,
    plan: { ...plan, block: which, reference: which === 'reference', events },
  })
  return [
    block('first', half, ''),
    block('reference', plan.events, 'Now the reference: connect it, and move the sensor to it.'),
    block(
      'last',
      Math.max(2, plan.events - half),
      'Back to the display: connect it again, and put the sensor where it was.',
    ),
  ]
}
