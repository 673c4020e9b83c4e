import { AppError } from '#shared/domain/errors.ts'
import type { RigTarget } from '#shared/domain/rig.ts'
import type { CliCore, CliHost, CliProcess } from './host.ts'
import type { Output } from './output.ts'
import { type RigOptions, rigTargetOf, type StimulusOption } from './plan-options.ts'

export const FLASH_WARNING =
  'Warning: a sweep makes the patch on the display under test change its brightness again and again. Flashing light can ' +
  'trigger seizures in people with photosensitive epilepsy. Let nobody watch the display while a sweep runs.'

interface LightOptions extends RigOptions {
  readonly archive: string
  readonly speed: number
  readonly stimulus?: StimulusOption
  readonly iUnderstandFlashing?: boolean
}

export interface LightCore extends CliCore {
  readonly stimulus: 'simulated' | 'page'
}

/**
 * Does what changes light with the core open and the rig connected: warns first, and refuses a real screen until the
 * warning was read. `create`: whether an archive that is not there is made.
 */
export async function withLight<T>(
  host: CliHost,
  options: LightOptions,
  output: Output,
  create: boolean,
  work: (opened: LightCore) => Promise<T>,
): Promise<T> {
  const target = rigTargetOf(options)
  const stimulus = stimulusOf(options, target)
  output.note(FLASH_WARNING)
  if (stimulus === 'page' && options.iUnderstandFlashing !== true)
    throw new AppError(
      'conflict',
      'A real screen is used, and the warning about flashing light has not been acknowledged.',
      'Read the warning above, then add --i-understand-flashing.',
    )
  if (target.kind === 'serial' && options.speed !== 1)
    throw new AppError('invalid-input', '--speed needs the embedded simulated rig.', 'Omit it for a serial rig.')
  const opened = await host.openCore({
    archive: options.archive,
    stimulusPage: stimulus === 'page',
    speed: options.speed,
    create,
  })
  try {
    const { core } = opened
    await core.rig.connect(target)
    await core.stimulus.use({ kind: stimulus })
    // Without a screen nothing flashes; with one the operator has acknowledged the warning by an option.
    await core.system.acknowledgeWarning({ understood: true })
    return await work({ ...opened, stimulus })
  } finally {
    await opened.close()
  }
}

/** The simulated display where there is one, else a page on a real screen. */
function stimulusOf({ stimulus }: Pick<LightOptions, 'stimulus'>, target: RigTarget): 'simulated' | 'page' {
  const driven = target.kind === 'simulated' || target.controlPath !== undefined
  if (stimulus === 'page' || (stimulus === undefined && !driven)) return 'page'
  if (!driven)
    throw new AppError(
      'invalid-input',
      'A rig on a serial port has no simulated display unless its control socket is given.',
      'Give --control SOCKET, or use --stimulus page.',
    )
  if (stimulus === 'socket' && target.kind === 'simulated')
    throw new AppError('invalid-input', 'The embedded simulated rig has no control socket.', 'Use --stimulus sim.')
  return 'simulated'
}

/** Waits until the stimulus page is open in full screen on the display under test, or the operator gives up. */
export async function pageAttached(
  { core, stimulusUrl }: CliCore,
  resume: string,
  process: CliProcess,
  output: Output,
): Promise<void> {
  const there = (): boolean => {
    const { connected, fullScreen } = core.system.state().stimulus
    return connected && fullScreen
  }
  if (there()) return
  output.note(`Open this page on the display under test and make it full screen: ${stimulusUrl ?? ''}`)
  await new Promise<void>((resolve, reject) => {
    const stopWatching = core.system.watch(() => {
      if (there()) done(resolve)
    })
    const release = process.onInterrupt(() =>
      done(() =>
        reject(
          new AppError('cancelled', 'Stopped waiting for the stimulus page.', `When the page can be opened: ${resume}`),
        ),
      ),
    )
    function done(then: () => void): void {
      stopWatching()
      release()
      then()
    }
  })
}
