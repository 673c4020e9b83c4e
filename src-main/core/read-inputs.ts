import { toErrorDetail } from '#shared/domain/errors.ts'
import type { StoredInput } from '#shared/domain/stored.ts'
import type { Store } from './ports.ts'

export interface ReadInputs {
  readonly stored: readonly StoredInput[]
  /** Captures whose samples are damaged, by name. */
  readonly unreadable: readonly { readonly captureId: number; readonly problem: string }[]
  /** How many of the ids, from the first, this answers; the rest is to be asked for again. */
  readonly taken: number
}

/**
 * Reads what measuring needs of some captures. One that is damaged costs only itself: where the whole answer fails, each
 * is read alone. Rejects with the store's error when it is of another kind.
 */
export async function readInputs(store: Store, ids: readonly number[]): Promise<ReadInputs> {
  try {
    const stored = await store.inputs(ids)
    const last = stored.at(-1)
    return { stored, unreadable: [], taken: last === undefined ? ids.length : ids.indexOf(last.captureId) + 1 }
  } catch (error) {
    if (!isDamage(error)) throw error
  }
  const stored: StoredInput[] = []
  const unreadable: { captureId: number; problem: string }[] = []
  for (const captureId of ids)
    try {
      stored.push(...(await store.inputs([captureId])))
    } catch (error) {
      if (!isDamage(error)) throw error
      unreadable.push({ captureId, problem: toErrorDetail(error).message })
    }
  return { stored, unreadable, taken: ids.length }
}

function isDamage(error: unknown): boolean {
  return toErrorDetail(error).code === 'archive-damaged'
}
