/** Which captures one decision is about: the one shown, or many of its sweep. */
import type { CaptureInfo } from '#shared/domain/capture.ts'
import type { ReviewScope } from '#shared/domain/desk.ts'
import type { FlagId } from '#shared/domain/result.ts'
import { pair } from '../../ui/format.ts'
import { FLAG_WORDS } from '../../ui/words.ts'

export const ONE = 'one'

export interface ScopeChoice {
  readonly id: string
  readonly label: string
  /** null for the capture shown. */
  readonly scope: ReviewScope | null
}

/** What a decision on a capture may be extended to. */
export function scopesOf(
  info: Pick<CaptureInfo, 'id' | 'sweepId' | 'from' | 'to'>,
  flags: readonly FlagId[],
  recipeHash: string,
): readonly ScopeChoice[] {
  const { sweepId, from, to } = info
  const sweep = { recipeHash, sweepId }
  return [
    { id: ONE, label: `Capture ${info.id} only`, scope: null },
    { id: 'pair', label: `All of ${pair(from, to)} in sweep ${sweepId}`, scope: { ...sweep, from, to } },
    ...[...new Set(flags)].map((flag) => ({
      id: flag,
      label: `All with “${FLAG_WORDS[flag]}” in sweep ${sweepId}`,
      scope: { ...sweep, flag },
    })),
    { id: 'sweep', label: `All of sweep ${sweepId}`, scope: sweep },
  ]
}
