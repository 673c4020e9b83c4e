/** What travels between the store and its worker thread. */
import type { ErrorDetail } from '#shared/domain/errors.ts'
import type { ArchiveSettings, OpenReport } from './archive.ts'
import type { SalvageSettings } from './salvage.ts'
import type { SalvageReport } from './salvage-report.ts'

export type StoreRequest =
  | {
      readonly id: number
      readonly kind: 'open'
      readonly settings: ArchiveSettings
      readonly readOnly: boolean | 'untouched'
    }
  | { readonly id: number; readonly kind: 'close' }
  | { readonly id: number; readonly kind: 'leave' }
  | { readonly id: number; readonly kind: 'salvage'; readonly settings: SalvageSettings }
  | {
      readonly id: number
      readonly kind: 'call'
      /** Of the operation table; checked where it is answered. */
      readonly name: string
      readonly args: readonly unknown[]
      /** Wall-clock time of the request, ISO 8601 UTC. */
      readonly at: string
    }

export type StoreReply =
  | { readonly id: number; readonly ms: number; readonly value: unknown }
  | { readonly id: number; readonly ms: number; readonly error: ErrorDetail }

export type { OpenReport, SalvageReport }
