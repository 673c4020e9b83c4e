import type { RawTrace } from '#shared/domain/capture.ts'
import type { Store } from '#main/core/ports.ts'
import { stopIfAborted } from './csv.ts'
import type { Cell, Table } from './csv.ts'
import { sweepWords } from './tables.ts'

const TRACE_COLUMNS = ['time_s', 'voltage_v'] as const

/** Samples turned into text at a time; long enough to be quick, short enough to cancel and to keep memory flat. */
const BATCH = 8192

/**
 * The raw samples of a capture against time, 0 at the rig's trigger. Every number is the shortest decimal that reads
 * back to the same double, so that codes (voltage − offset) ÷ scale and 32-bit samples are recovered bit for bit.
 */
export async function traceTable(store: Store, captureId: number): Promise<Table> {
  const [info, trace, campaigns] = await Promise.all([
    store.capture(captureId),
    store.trace(captureId),
    store.campaigns(),
  ])
  const sweep = await store.sweep({ sweepId: info.sweepId })
  const words = sweepWords(
    campaigns.find(({ id }) => id === sweep.campaignId),
    sweep,
  )
  // The levels with a word between them, so that reading them back is not misled by numbers in the display's name.
  const pair = `${info.from}-to-${info.to}`
  const count = trace.samples.length
  return {
    name: `${words}_sweep-${info.sweepId}_capture-${info.id}_${pair}_r${info.repeat}_a${info.attempt}_trace.csv`,
    columns: TRACE_COLUMNS,
    rows: count,
    async *batches(signal) {
      for (let start = 0; start < count; start += BATCH) {
        stopIfAborted(signal)
        yield traceRows(trace, info.triggerIndex, start, Math.min(count, start + BATCH))
        // Nothing else waits in this loop: let other work have its turn.
        await new Promise((resolve) => setImmediate(resolve))
      }
    },
  }
}

function traceRows(trace: RawTrace, triggerIndex: number, start: number, end: number): Cell[][] {
  const { samples, sampleRateHz, scaleV, offsetV } = trace
  const rows: Cell[][] = []
  for (let i = start; i < end; i++)
    rows.push([(i - triggerIndex) / sampleRateHz, (samples[i] as number) * scaleV + offsetV])
  return rows
}
