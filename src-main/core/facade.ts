/**
 * What the interface and the command line can ask of the core: one method per procedure of the contract, with the
 * contract's own types, so that neither side can drift. Inputs arrive already checked and with defaults filled in.
 * Every rejection is an AppError; anything else counts as an internal error and is logged by the caller.
 */
import type { Contract } from '#shared/contract/contract.ts'
import type { ImportRequest, ImportSummary } from '#shared/domain/import.ts'
import type { ExportRequest } from '#shared/contract/exports.ts'
import type { HostEvent, HostState } from '#shared/domain/views.ts'
import type { ExportFile } from './ports.ts'

type SchemaOutput<S> = S extends { readonly '~standard': { readonly types?: infer T } }
  ? NonNullable<T> extends { readonly output: infer O }
    ? O
    : never
  : never
/** A procedure's input after its schema; `unknown` when it takes none. */
export type Parsed<P> = P extends { '~orpc': { inputSchema?: infer S } } ? SchemaOutput<NonNullable<S>> : never
export type Answer<P> = P extends { '~orpc': { outputSchema?: infer S } } ? SchemaOutput<NonNullable<S>> : never

type Method<P> =
  unknown extends Parsed<P>
    ? (signal?: AbortSignal) => Promise<Answer<P>>
    : (input: Parsed<P>, signal?: AbortSignal) => Promise<Answer<P>>

type StoredIn<G> = { [P in keyof G]: G[P] extends { readonly operation: string } ? P : never }[keyof G]
type StoredProcedure = { [G in keyof Contract]: Contract[G][StoredIn<Contract[G]>] }[keyof Contract]
/** The calls of the contract that the archive answers by itself, and the operations that answer them. */
export type StoredCalls = {
  readonly [G in keyof Contract]: { readonly [P in StoredIn<Contract[G]>]: Method<Contract[G][P]> }
}
export type StoredOperations = { readonly [P in StoredProcedure as P['operation']]: Method<P> }

type Group<G extends keyof Contract, Elsewhere extends keyof Contract[G] = never> = {
  readonly [P in Exclude<keyof Contract[G], Elsewhere>]: Method<Contract[G][P]>
}

export interface Core {
  readonly system: Group<'system', 'watch' | 'state' | 'archive' | 'openArchive'> & {
    state(): HostState
    /**
     * Calls the listener at every event until the returned function is called. The listener must not throw and is
     * called in order; it does not hear the present state first (ask `state()`). Fan-out, coalescing and
     * back-pressure per client are the caller's.
     */
    watch(listener: (event: HostEvent) => void): () => void
  }
  readonly rig: Group<'rig'>
  /** The page's own calls and the window belong to the stimulus and the shell; the core only decides which to use. */
  readonly stimulus: Group<'stimulus', 'attach' | 'report' | 'screens' | 'openWindow' | 'closeWindow'>
  readonly campaigns: Group<'campaigns'>
  readonly library: Group<'library', 'choose'> & {
    /** What the person chose in the host's own dialog. */
    addChosen(paths: readonly string[]): Promise<number>
  }
  readonly runs: Group<'runs'>
  readonly readings: Group<'readings'>
  readonly latency: Group<'latency'>
  readonly guided: Group<'guided'>
  readonly sweeps: Group<'sweeps'>
  readonly captures: Group<'captures'>
  readonly light: Group<'light'>
  readonly recipes: Group<'recipes'>
  readonly reviews: Group<'reviews'>
  readonly jobs: Group<'jobs'>
  readonly files: Group<'files', 'export'> & {
    /** Opens a file for reading; nothing of it is made before its first piece is asked for. */
    export(request: ExportRequest): Promise<ExportFile>
    /** An import at once, for callers in this process that hold the texts themselves. */
    importCommit(request: ImportRequest, signal?: AbortSignal): Promise<ImportSummary>
  }
  /** Pauses what runs, lets the rig go, closes the store; afterwards every call rejects with `cancelled`. */
  close(): Promise<void>
}
