import type { ExportRequest } from '#shared/contract/exports.ts'
import type { Client } from './client.ts'
import { collect } from './collect.ts'
import { saveBlob } from './download.ts'
import { useCommand } from './use-command.ts'

/** Files that the host makes: tables, traces, reports, bundles. */
export function useExports() {
  const { run, busy } = useCommand('The file could not be saved', (client, request: ExportRequest) =>
    saveExport(client, request),
  )
  return { save: (request: ExportRequest) => void run(request), busy }
}

/** Has a file made by the host and hands it to the person: a download in the browser, a dialog on the desktop. */
async function saveExport(client: Client, request: ExportRequest): Promise<void> {
  const { name, content } = await collect(await client.files.export(request))
  saveBlob(name, content)
}
