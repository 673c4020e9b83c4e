import type { Origin } from '#shared/domain/capture.ts'
import { AppError } from '#shared/domain/errors.ts'
import type { RigIdentity, RigState } from '#shared/domain/rig.ts'
import type { Rig } from './ports.ts'

/** The rig that is connected, as sweeps and runs keep it; `rig-absent` without one. */
export function rigKept(rig: Pick<Rig, 'state'>): { origin: Origin; rigIdentity: string } {
  const { identity } = rig.state()
  if (!identity)
    throw new AppError('rig-absent', 'No rig is connected.', 'Connect a rig first; the sweep keeps its identity.')
  return { origin: originOf(rig.state()), rigIdentity: identityText(identity) }
}

/** Captures of one sweep are all measured, or all simulated. What was imported, and no rig, are refused elsewhere. */
export function refuseOtherRig(rig: Pick<Rig, 'state'>, origin: Origin): void {
  const state = rig.state()
  if (origin === 'imported' || !state.identity || origin === originOf(state)) return
  throw new AppError(
    'conflict',
    origin === 'simulated'
      ? 'This was started on a simulated rig; captures from a real one cannot be added.'
      : 'This was started on a real rig; captures from a simulated one cannot be added.',
    'Connect the rig it was started on, or make a new plan.',
  )
}

/** Whatever a simulated rig answers is invented data, over a serial line too. */
function originOf({ target, identity }: RigState): Origin {
  const simulated = identity?.manufacturer === 'Slewlight' && identity.model.startsWith('Simulated')
  return simulated || target?.kind === 'simulated' ? 'simulated' : 'measured'
}

export function identityText(identity: RigIdentity | null): string {
  return identity
    ? `${identity.manufacturer} ${identity.model}, serial ${identity.serial}, firmware ${identity.firmware}`
    : 'unknown'
}
