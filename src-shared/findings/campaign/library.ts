/** Archives opened together, only to read, so that their displays can be set side by side. */
import type { Origin } from '#shared/domain/capture.ts'
import type { ErrorDetail } from '#shared/domain/errors.ts'
import type { DisplayData } from './displays.ts'

/** A campaign of an archive under one recipe. */
export interface LibraryCampaign {
  readonly id: number
  readonly name: string
  readonly display: string
  /** Null while it has no data. */
  readonly origin: Origin | null
  /** Captures without a result under the recipe and the measuring code in use. */
  readonly unmeasured: number
  /** What is compared; null without results. */
  readonly data: DisplayData | null
}

export interface LibraryArchive {
  readonly path: string
  /** Its file's name. */
  readonly name: string
  /** The archive the application works on; it cannot be taken out. */
  readonly isOpen: boolean
  /** Why nothing can be read of it; null when it can. */
  readonly problem: ErrorDetail | null
  readonly campaigns: readonly LibraryCampaign[]
}

export interface Library {
  readonly archives: readonly LibraryArchive[]
  /** Paths of archives the host knows of that are not among them. */
  readonly known: readonly string[]
  /** How others are added: the host's file dialog, or a typed path. */
  readonly adding: 'dialog' | 'path'
}

/** The last part of a path of any system. */
export const fileNameOf = (path: string): string => path.split(/[/\\]/).at(-1) ?? path

/** Which campaign of which archive; the key of a display in a library. */
export const displayKey = (archive: Pick<LibraryArchive, 'path'>, campaign: Pick<LibraryCampaign, 'id'>): string =>
  `${archive.path}#${campaign.id}`

export interface LibraryDisplay {
  readonly key: string
  readonly archive: LibraryArchive
  readonly campaign: LibraryCampaign
  /** Its display under a name that no other one here has. */
  readonly data: DisplayData
}

/** Every display with results. Where two have the same name, campaign and archive tell them apart. */
export function displaysIn(archives: readonly LibraryArchive[]): LibraryDisplay[] {
  const all = archives.flatMap((archive) =>
    archive.campaigns.flatMap((campaign) =>
      campaign.data === null ? [] : [{ archive, campaign, data: campaign.data }],
    ),
  )
  type One = (typeof all)[number]
  const names: readonly ((one: One) => string)[] = [
    ({ data }) => data.name,
    ({ data, archive }) => `${data.name} (${archive.name})`,
    ({ data, archive, campaign }) => `${data.name} (${archive.name}, ${campaign.name})`,
    ({ data, archive, campaign }) => `${data.name} (${archive.path}, campaign ${campaign.id})`,
  ]
  return all.map((one) => {
    const nameOf = names.find((name) => all.filter((other) => name(other) === name(one)).length === 1)
    const key = displayKey(one.archive, one.campaign)
    return { ...one, key, data: { ...one.data, name: (nameOf ?? (() => key))(one) } }
  })
}
