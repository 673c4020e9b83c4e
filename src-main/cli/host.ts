/** What the command line needs from its composition root. */
import type { ChangeCommand } from '#shared/domain/change-command.ts'
import type { createCore } from '#main/core/core.ts'
import type { VerifyReport } from '#shared/domain/bundle.ts'
import type { LibraryReader } from '#main/core/library-reader.ts'
import type { Publisher, Store } from '#main/core/ports.ts'

export interface CliCore {
  readonly core: Awaited<ReturnType<typeof createCore>>
  readonly store: Store
  /** Address of the page for the display under test; null where none is served. */
  readonly stimulusUrl: string | null
  /** Pauses what runs and closes everything. */
  close(): Promise<void>
}

interface CoreWish {
  readonly archive: string
  /** Serve the stimulus page on the loopback address. */
  readonly stimulusPage: boolean
  /** How many times faster than real time a simulated rig runs. */
  readonly speed: number
  /** Whether an archive that is not there is made; otherwise it is refused with `not-found`. */
  readonly create: boolean
  /** `ask`: a person does. Program that sets the display between the sweeps of a run; a simulated display follows the plan without one. */
  readonly change?: ChangeCommand | 'ask' | null
}

interface CliSalvage {
  readonly captures: number
  readonly lost_captures: readonly number[]
  readonly campaigns: number
  readonly sweeps: number
  readonly results: number
  readonly reviews: number
  readonly notes: number
  readonly damaged_file: string
  /** The same for a person. */
  readonly words: string
}

export interface CliHost {
  readonly version: string
  /** Archive used when `--archive` is not given. */
  readonly standardArchive: string
  /** The archive alone, which must be there; `look`: only to read it, also while another program has it open. */
  openStore(archive: string, use: 'look' | 'change'): Promise<Store>
  /** Everything, for sweeps, imports and re-analysis; nothing is connected yet. */
  openCore(wish: CoreWish): Promise<CliCore>
  /** What reads archives to be compared; nothing in them changes. */
  library(): Promise<{ readonly reader: LibraryReader; readonly close: () => Promise<void> }>
  /** What makes figures, reports and bundles; it keeps nothing open. */
  publisher(): Promise<Publisher>
  /** Path of the demo library, which is made where it is not there yet; rejects with `cancelled`. */
  demo(
    folder: string | undefined,
    onProgress: (done: number, total: number) => void,
    signal: AbortSignal,
  ): Promise<string>
  /** Sets a damaged archive aside and copies what can be read into a new one. */
  salvage(archive: string): Promise<CliSalvage>
  /** Measures the traces of a bundle again; see the report for what does not agree. */
  verify(
    bundle: string,
    options: { readonly onProgress: (done: number, total: number) => void; readonly signal: AbortSignal },
  ): Promise<VerifyReport>
  /** The application on the loopback address; resolves when it has been told to end. */
  serve(args: readonly string[]): Promise<void>
}

/** The process around a command, so that tests can run commands without one. */
export interface CliProcess {
  out(text: string): void
  /** Bytes to standard output; resolves when more may follow. */
  write(bytes: Uint8Array): Promise<void>
  err(text: string): void
  /** Whether standard error is a terminal that can redraw its last line. */
  readonly liveErr: boolean
  /** The next line typed on standard input; null where nobody can type, or the input has ended. */
  readonly typed?: ((signal: AbortSignal) => Promise<string | null>) | null
  /** Calls the listener at each Ctrl-C or request to end, until released. */
  onInterrupt(listener: () => void): () => void
}
