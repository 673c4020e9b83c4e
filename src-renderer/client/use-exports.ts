import { saveText } from './download.ts'
import { useCommand } from './use-command.ts'

/** Tables and traces as CSV files: a download in the browser, a dialog that asks where to on the desktop. */
export function useExports() {
  const table = useCommand(
    'The table could not be saved',
    async (client, kind: 'matrix' | 'captures', sweepId: number, recipeHash: string) =>
      saveText(await client.files.exportCsv({ kind, sweepId, recipeHash })),
  )
  const trace = useCommand('The trace could not be saved', async (client, captureId: number) =>
    saveText(await client.files.exportTrace({ captureId })),
  )
  return {
    saveTable: (kind: 'matrix' | 'captures', sweepId: number, recipeHash: string) =>
      void table.run(kind, sweepId, recipeHash),
    saveTrace: (captureId: number) => void trace.run(captureId),
    busy: table.busy || trace.busy,
  }
}
