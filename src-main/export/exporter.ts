import type { Exporter, Store } from '#main/core/ports.ts'
import { tableFile } from './csv.ts'
import { capturesTable, matrixTable } from './tables.ts'
import { traceTable } from './trace.ts'

export function createExporter(store: Store): Exporter {
  return {
    async table(request) {
      if (request.what === 'trace') return tableFile(await traceTable(store, request.captureId))
      if (request.what === 'captures') return tableFile(await capturesTable(store, request))
      const { sweepId, recipeHash, measures } = request
      return tableFile(await matrixTable(store, { sweepId, recipeHash, ...(measures && { measures }) }))
    },
  }
}
