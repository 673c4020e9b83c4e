import type { HostEvent } from '#shared/domain/views.ts'

/** Query keys begin with one of these, so that an event can name what it makes old. */
export type Topic =
  | 'archive'
  | 'campaigns'
  | 'sweeps'
  | 'matrix'
  | 'captures'
  | 'capture'
  | 'recipes'
  | 'reviews'
  | 'readings'
  | 'ports'
  | 'screens'
  | 'check'
  | 'import-preview'
  | 'job-outcome'
  | 'library'

const CHANGED: Readonly<Record<Extract<HostEvent, { kind: 'changed' }>['what'], readonly Topic[]>> = {
  results: ['matrix', 'captures', 'capture', 'library'],
  reviews: ['matrix', 'captures', 'capture', 'reviews', 'sweeps', 'library'],
  recipes: ['recipes'],
  // Its first sweep says where a campaign's data come from.
  sweeps: ['sweeps', 'campaigns', 'library'],
  readings: ['readings'],
  library: ['library'],
  campaigns: ['campaigns', 'sweeps', 'library'],
}

/** What each event makes old. */
export function topicsOf(event: HostEvent): readonly Topic[] {
  // A capture may be the retake of another one.
  if (event.kind === 'capture') return ['matrix', 'captures', 'sweeps', 'reviews', 'library']
  if (event.kind !== 'changed') return []
  return CHANGED[event.what]
}
