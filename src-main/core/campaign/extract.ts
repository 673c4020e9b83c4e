/** What the archive knows of a campaign beside results and traces, for a bundle: plans, decisions of people, readings, log. */
import type { BundleExtra } from '#shared/domain/bundle.ts'
import type { Store } from '../ports.ts'
import type { CampaignContent } from './findings.ts'

export const EXTRACT = 'data/archive.json'
const MOST_EVENTS = 10_000

type Reader = Pick<Store, 'runs' | 'readings' | 'events' | 'reviews' | 'acceptedFlags'>

/** The same archive gives the same bytes. */
export async function archiveExtract(store: Reader, { campaign, sweeps }: CampaignContent): Promise<BundleExtra> {
  const campaignId = campaign.id
  const sweepIds = new Set(sweeps.map(({ sweep }) => sweep.id))
  // Only captures that a person decided on have anything to tell.
  const decided = sweeps.flatMap(({ matrix }) =>
    matrix.cells.flatMap(({ entries }) =>
      entries.flatMap(({ captureId, excluded, overridden }) => (excluded || overridden ? [captureId] : [])),
    ),
  )
  const reviews = []
  for (const id of decided.sort((a, b) => a - b)) reviews.push(...(await store.reviews(id)))
  const log = []
  for (const { sweep } of sweeps) log.push(...(await store.events({ sweepId: sweep.id, limit: MOST_EVENTS })))
  const extract = {
    campaign,
    runs: await store.runs({ campaignId }),
    sweeps: sweeps.map(({ sweep }) => sweep),
    reviews,
    acceptedFlags: (await store.acceptedFlags()).filter(({ sweepId }) => sweepIds.has(sweepId)),
    readings: await store.readings({ campaignId }),
    log,
  }
  return {
    path: EXTRACT,
    name: 'Extract of the archive: plans, reviews, readings, log',
    encodingFormat: 'application/json',
    bytes: new TextEncoder().encode(`${JSON.stringify(extract, null, 2)}\n`),
  }
}
