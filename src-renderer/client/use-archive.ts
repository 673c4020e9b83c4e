import type { ArchiveChoice } from '#shared/domain/views.ts'
import { useHostQuery } from './queries.ts'
import { useCommand } from './use-command.ts'

/** Which archive is open; null where it cannot be changed or is not known yet. */
export function useArchiveChoice(): ArchiveChoice | null {
  const asked = useHostQuery(['archive'], (client, signal) => client.system.archive(undefined, { signal }))
  return asked.data ?? null
}

/** Changes over to the other archive and loads the page anew: nothing of the one before means anything there. */
export function useOpenArchive(title: string) {
  const command = useCommand(title, (client, archive: ArchiveChoice) => client.system.openArchive({ archive }))
  const open = async (archive: ArchiveChoice): Promise<void> => {
    // Making the library may have failed, or have been cancelled.
    if ((await command.run(archive)) !== archive) return
    location.hash = '#/bench'
    location.reload()
  }
  return { open, busy: command.busy }
}
