import type { Archive } from '../../src-main/store/archive.ts'
import { OPERATIONS } from '../../src-main/store/operations.ts'
import { PLAN } from './fixtures.ts'

/** A sweep in an archive that is open in this thread; answers with its number. */
export function sweepIn(archive: Archive, total: number): number {
  const { id: campaignId } = OPERATIONS.createCampaign(archive, { name: 'A', display: '', note: '' })
  return OPERATIONS.createSweep(archive, { campaignId, plan: PLAN, origin: 'simulated', rigIdentity: '', total }).id
}
