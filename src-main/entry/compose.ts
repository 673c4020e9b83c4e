/** Puts the application together: everything that every way in shares. The only place that knows all adapters. */
import type { Changer } from '#main/core/campaign/arrival.ts'
import { createPublisher } from '#main/publish/publisher.ts'
import { availableParallelism } from 'node:os'
import { dirname, join } from 'node:path'
import { createApi, type Api } from '#main/api/handler.ts'
import type { ArchiveSwitch, StimulusWindows } from '#main/api/router.ts'
import { createPool } from '#main/analysis/pool.ts'
import { createCore } from '#main/core/core.ts'
import { createLibraryReader, type LibraryReader } from '#main/core/library-reader.ts'
import type { Analyzer, Clock, Log, Store } from '#main/core/ports.ts'
import { createExporter } from '#main/export/exporter.ts'
import { createClock } from '#main/platform/clock.ts'
import { createKeptPaths } from '#main/platform/kept-paths.ts'
import { standardPaths } from '#main/platform/paths.ts'
import { createStaging } from '#main/platform/staging.ts'
import { createMeters } from '#main/rig/api/scpi-meter.ts'
import { createRig } from '#main/rig/api/rig-manager.ts'
import { createSimulatedRigs } from '#main/rig/simulated/simulated-rigs.ts'
import { listSerialPorts, openSerial } from '#main/rig/transport/serial.ts'
import { injectAtSocket } from '#main/stimulus/control-socket.ts'
import { createDisplaySource } from '#main/stimulus/display-source.ts'
import { createPageStimulus, type PageStimulus } from '#main/stimulus/page.ts'
import { createStimulusRouter } from '#main/stimulus/router.ts'
import { createSimulatedStimulus } from '#main/stimulus/simulated.ts'
import { describeSalvage, type SalvageReport } from '#main/store/salvage-report.ts'
import { archivesIn, createOtherArchives, locateArchive } from '#main/store/other-archives.ts'
import { openStore, salvageArchive } from '#main/store/store.ts'
import type { RigTarget } from '#shared/domain/rig.ts'
import { MAX_IMPORT_BYTES } from '#shared/import/decode.ts'
import { VERSION } from './version.ts'
import { createAnalysisWorker, createStoreWorker } from './workers.ts'

export interface ArchiveOptions {
  readonly archive: string
  readonly log: Log
  readonly clock?: Clock
  /** Copies what can be read out of a damaged archive into a new one first. */
  readonly salvage?: boolean
  /** For looking at it, also while another program writes. */
  readonly readOnly?: boolean
  /** Refuses an archive that is not there instead of making it. */
  readonly mustExist?: boolean
  /** Given what the person must know about the archive before the work goes on. */
  readonly tell?: (words: string) => void | Promise<void>
}

export interface CoreOptions extends ArchiveOptions {
  readonly host: 'desktop' | 'server'
  /** Whether the stimulus page lives in the desktop's own window. */
  readonly inWindow?: () => boolean
  /** How a run gets the display changed; a person is asked when absent. */
  readonly changer?: Changer
}

export interface ComposedCore {
  readonly core: Awaited<ReturnType<typeof createCore>>
  readonly store: Store
  readonly page: PageStimulus
}

/** What reads the archives compared with; closing it ends the threads that measure. */
export function composeLibrary(log: Log): { reader: LibraryReader; close: () => Promise<void> } {
  const analyzer = createPool({ size: availableParallelism(), createWorker: createAnalysisWorker, log })
  return { reader: readerWith(analyzer, log), close: () => analyzer.close() }
}

const readerWith = (analyzer: Analyzer, log: Log): LibraryReader =>
  createLibraryReader({
    analyzer,
    others: createOtherArchives({ createWorker: createStoreWorker, clock: createClock(), log }),
  })

export interface HostOptions extends Omit<CoreOptions, 'inWindow'> {
  readonly windows: StimulusWindows & { isOpen?(): boolean }
  readonly archives?: ArchiveSwitch
  /** The host's file dialog for archives. */
  readonly chooseArchives?: () => Promise<readonly string[]>
  /** Connected at the start; null leaves it to the operator. */
  readonly rig: RigTarget | null
}

export interface ComposedHost extends ComposedCore {
  readonly serve: Api['serve']
  close(): Promise<void>
}

/** Sets a damaged archive aside; answers with what could be copied, in words too. Rejects as `salvageArchive` does. */
export async function salvageAt(options: ArchiveOptions): Promise<SalvageReport & { readonly words: string }> {
  const { archive, log, clock = createClock() } = options
  const report = await salvageArchive({ path: archive, log, clock, createWorker: createStoreWorker })
  log.warn('The archive was salvaged.', { ...report })
  return { ...report, words: describeSalvage(report) }
}

/** The archive alone. Rejects as `openStore` does. */
export async function openArchive({
  archive,
  log,
  clock = createClock(),
  salvage,
  readOnly = false,
  mustExist = false,
  tell,
}: ArchiveOptions): Promise<Store> {
  const settings = { path: archive, log, clock, readOnly, mustExist, createWorker: createStoreWorker, tell }
  if (salvage === true) {
    const { words } = await salvageAt({ archive, log, clock })
    await tell?.(words)
  }
  return openStore(settings)
}

/** Everything behind the contract; nothing is connected yet. `core.close()` closes all of it. */
export async function composeCore(options: CoreOptions): Promise<ComposedCore> {
  const { log, host, inWindow = () => false, clock = createClock() } = options
  const store = await openArchive({ ...options, clock })
  try {
    const simulated = createSimulatedRigs(clock)
    const rig = createRig({ clock, log, openSerial, listSerialPorts, openSimulated: simulated.open, injectAtSocket })
    const page = createPageStimulus({ clock, log, inWindow })
    const display = createDisplaySource({ rig, embedded: simulated })
    const onSimulated = createSimulatedStimulus(display)
    const stimulus = createStimulusRouter({ simulated: onSimulated, page }, 'simulated', onSimulated.simulatedMenu)
    const analyzer = createPool({
      // One processor stays with the host, which must not keep the rig waiting.
      size: Math.max(1, availableParallelism() - 1),
      createWorker: createAnalysisWorker,
      log,
    })
    const staging = createStaging({ clock, maxFileBytes: MAX_IMPORT_BYTES, maxBytes: 4 * 2 ** 30, staleS: 3600 })
    const publisher = createPublisher()
    const deps = { publisher, store, rig, stimulus, analyzer, exporter: createExporter(store), staging, clock, log }
    const core = await createCore({
      ...deps,
      meters: createMeters({ clock, log, openSerial }),
      version: VERSION,
      host,
      library: {
        reader: readerWith(analyzer, log),
        kept: createKeptPaths(standardPaths().library, log),
        locate: locateArchive,
        known: () => archivesIn(knownFolders(options.archive)),
        adding: host === 'desktop' ? 'dialog' : 'path',
      },
      changer: () => options.changer ?? { kind: 'ask' },
    })
    const close = async (): Promise<void> => {
      await core.close()
      display.close()
    }
    return { core: { ...core, close }, store, page }
  } catch (error) {
    await store.close()
    throw error
  }
}

/** Where archives are kept: beside the one in use, at the usual place, and the demo library's. */
const knownFolders = (archive: string): string[] => {
  const usual = dirname(standardPaths().archive)
  return [dirname(archive), usual, join(usual, 'demo')]
}

/** The core with its contract served, and the rig of the options connected. */
export async function composeHost(options: HostOptions): Promise<ComposedHost> {
  const { windows, rig, log } = options
  const composed = await composeCore({ ...options, inWindow: () => windows.isOpen?.() === true })
  const { core, page } = composed
  const { archives = null, chooseArchives = null } = options
  const api = createApi({ core, page, windows, archives, chooseArchives, log })
  // A rig that does not answer is shown on the screen; it is no reason not to start.
  if (rig !== null)
    await core.rig.connect(rig).catch((error: unknown) => log.warn('No rig at the start.', { error: String(error) }))
  return { ...composed, serve: api.serve, close: () => core.close() }
}
