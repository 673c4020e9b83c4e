import type { RigIdentity } from '#shared/domain/rig.ts'

/** IEEE 488.2 10.14.3 allows 72 characters for all four; what is far beyond that is no identity. */
const LONGEST_IDENTITY = 256

/** The four comma-separated fields of *IDN? (IEEE 488.2 10.14); null when the answer does not have that form. */
export function parseIdentity(text: string): RigIdentity | null {
  if (text.length > LONGEST_IDENTITY) return null
  const fields = text.split(',').map((field) => field.trim())
  if (fields.length !== 4) return null
  const [manufacturer = '', model = '', serial = '', firmware = ''] = fields
  // "0" stands for "unknown" in the last two fields; without maker and model it identifies nothing.
  if (manufacturer === '' || model === '') return null
  return { manufacturer, model, serial, firmware }
}
