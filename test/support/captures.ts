import type { Store } from '#main/core/ports.ts'
import { captureFilterSchema, type CaptureFilter, type CaptureRow } from '#shared/domain/views.ts'

/** Captures on one page, in the order they were taken. */
export async function capturesOf(
  store: Pick<Store, 'captures'>,
  filter: Partial<CaptureFilter> & Pick<CaptureFilter, 'recipeHash'>,
): Promise<readonly CaptureRow[]> {
  return (await store.captures(captureFilterSchema.parse({ limit: 5000, ...filter }))).rows
}
