import type { Campaign } from '#shared/domain/capture.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { Core } from '#main/core/facade.ts'

/** The campaign that is there by this number or name. Throws `not-found`. */
export function knownCampaign(campaigns: readonly Campaign[], text: string): Campaign {
  const found = campaigns.find(({ id, name }) => name === text || String(id) === text)
  if (found !== undefined) return found
  throw new AppError('not-found', `There is no campaign “${text}”.`, 'See: slewlight show campaigns')
}

/** The campaign that `text` means: by number, or by name; a name that is new makes one. */
export async function campaignNamed(core: Core, text: string, display: string): Promise<Campaign> {
  const campaigns = await core.campaigns.list()
  if (/^\d+$/.test(text)) {
    const found = campaigns.find(({ id }) => id === Number(text))
    if (found) return found
    throw new AppError('not-found', `There is no campaign ${text}.`, 'See `slewlight show campaigns`, or give a name.')
  }
  const name = text.trim()
  if (name === '' || name.length > 100)
    throw new AppError('invalid-input', 'The name of a campaign has 1 to 100 characters.', 'Give --campaign a name.')
  return campaigns.find((campaign) => campaign.name === name) ?? core.campaigns.create({ name, display, note: '' })
}
