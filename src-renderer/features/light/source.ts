/** What the Light screen looks at. */
import type { ImportMapping } from '#shared/domain/import.ts'
import type { LightPart } from '#shared/domain/light.ts'

export type LightSource =
  | { readonly kind: 'capture'; readonly captureId: number; readonly part: LightPart }
  | {
      readonly kind: 'recording'
      readonly fileId: string
      readonly name: string
      readonly mapping: ImportMapping | null
    }

/** A dark level as typed, mV; null for an empty field, undefined for what is no number. */
export function darkLevel(text: string): number | null | undefined {
  const entry = text.trim().replace('\u2212', '-')
  if (entry === '') return null
  return /^-?\d+(\.\d+)?$/.test(entry) ? Number(entry) / 1000 : undefined
}
