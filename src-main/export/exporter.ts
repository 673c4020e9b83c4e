import type { Exporter, Store } from '#main/core/ports.ts'
import { csvWhole } from './csv.ts'
import { capturesTable, matrixTable } from './tables.ts'
import { traceTable } from './trace.ts'

/** Exports as texts, for callers that cannot be handed a file. */
export function createExporter(store: Store): Exporter {
  return {
    async csv({ kind, ...request }, signal) {
      const table = await (kind === 'matrix' ? matrixTable : capturesTable)(store, request)
      return { name: table.name, text: await csvWhole(table, signal) }
    },
    async trace(captureId, signal) {
      const table = await traceTable(store, captureId)
      return { name: table.name, text: await csvWhole(table, signal) }
    },
  }
}
