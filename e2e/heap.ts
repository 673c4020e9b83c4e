/** What a page keeps in memory, and what of it grew, by Chromium's own heap snapshots. */
import type { CDPSession, Page } from 'playwright/test'

interface Snapshot {
  readonly snapshot: {
    readonly meta: { readonly node_fields: string[]; readonly node_types: [string[], ...unknown[]] }
  }
  readonly nodes: readonly number[]
  readonly strings: readonly string[]
}

interface Held {
  readonly count: number
  readonly bytes: number
}

export interface Heap {
  /** Bytes of JavaScript objects that are still in use after a collection. */
  size(): Promise<number>
  /** Objects in use by the kind Chromium names them by: a constructor, or `(string)`, `(array)`, `(closure)`… */
  byKind(): Promise<ReadonlyMap<string, Held>>
}

export async function heapOf(page: Page): Promise<Heap> {
  const session = await page.context().newCDPSession(page)
  await session.send('Performance.enable')
  return {
    async size() {
      await session.send('HeapProfiler.collectGarbage')
      const { metrics } = await session.send('Performance.getMetrics')
      return metrics.find((metric) => metric.name === 'JSHeapUsedSize')?.value ?? Number.NaN
    },
    async byKind() {
      return counted(JSON.parse(await taken(session)) as Snapshot)
    },
  }
}

async function taken(session: CDPSession): Promise<string> {
  const pieces: string[] = []
  const keep = ({ chunk }: { chunk: string }): void => void pieces.push(chunk)
  session.on('HeapProfiler.addHeapSnapshotChunk', keep)
  await session.send('HeapProfiler.collectGarbage')
  await session.send('HeapProfiler.takeHeapSnapshot', { reportProgress: false })
  session.off('HeapProfiler.addHeapSnapshotChunk', keep)
  return pieces.join('')
}

function counted({ snapshot: { meta }, nodes, strings }: Snapshot): ReadonlyMap<string, Held> {
  const fields = meta.node_fields
  const [type, name, size] = ['type', 'name', 'self_size'].map((field) => fields.indexOf(field)) as [
    number,
    number,
    number,
  ]
  const kinds = new Map<string, Held>()
  for (let at = 0; at < nodes.length; at += fields.length) {
    const of = meta.node_types[type]
    const word = (of as string[])[nodes[at + type] as number] ?? ''
    const kind = word === 'object' || word === 'native' ? (strings[nodes[at + name] as number] ?? '') : `(${word})`
    const before = kinds.get(kind)
    kinds.set(kind, { count: (before?.count ?? 0) + 1, bytes: (before?.bytes ?? 0) + (nodes[at + size] as number) })
  }
  return kinds
}

/** The kinds that grew most between two snapshots, largest first, as text. */
export function growth(from: ReadonlyMap<string, Held>, to: ReadonlyMap<string, Held>, listed = 6): string {
  const grown = [...to].map(([kind, { count, bytes }]) => {
    const before = from.get(kind)
    return { kind: kind.slice(0, 40), count: count - (before?.count ?? 0), bytes: bytes - (before?.bytes ?? 0) }
  })
  const most = grown.filter(({ bytes }) => bytes > 0).toSorted((a, b) => b.bytes - a.bytes)
  const sum = (kinds: ReadonlyMap<string, Held>): number =>
    [...kinds.values()].reduce((total, { bytes }) => total + bytes, 0)
  const words = most
    .slice(0, listed)
    .map(
      ({ kind, count, bytes }) =>
        `${kind} +${(bytes / 1e3).toFixed(0)} kB (${count >= 0 ? '+' : '−'}${Math.abs(count)})`,
    )
  return `snapshots ${(sum(from) / 1e6).toFixed(1)} and ${(sum(to) / 1e6).toFixed(1)} MB; grew most: ${words.join(', ')}`
}
