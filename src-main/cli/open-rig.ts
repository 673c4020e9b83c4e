import { AppError } from '#shared/domain/errors.ts'
import type { RigTarget } from '#shared/domain/rig.ts'
import type { CliHost } from './host.ts'
import type { Output } from './output.ts'

export const FLASH_WARNING =
  'Warning: a sweep makes the patch on the display under test change its brightness again and again. Flashing light can ' +
  'trigger seizures in people with photosensitive epilepsy. Let nobody watch the display while a sweep runs.'

interface LightOptions {
  readonly archive: string
  readonly speed: number
  readonly iUnderstandFlashing?: boolean
}

/** Opens the core for a command that changes light: warns first, and refuses a real screen until the warning was read. */
export async function openForLight(
  host: CliHost,
  options: LightOptions,
  target: RigTarget,
  stimulus: 'simulated' | 'page',
  output: Output,
): ReturnType<CliHost['openCore']> {
  output.note(FLASH_WARNING)
  if (stimulus === 'page' && options.iUnderstandFlashing !== true)
    throw new AppError(
      'conflict',
      'A real screen is used, and the warning about flashing light has not been acknowledged.',
      'Read the warning above, then add --i-understand-flashing.',
    )
  if (target.kind === 'serial' && options.speed !== 1)
    throw new AppError('invalid-input', '--speed needs the embedded simulated rig.', 'Omit it for a serial rig.')
  return host.openCore({ archive: options.archive, stimulusPage: stimulus === 'page', speed: options.speed })
}
