/** The chosen files and what was said about them; outlives the screen, so that work goes on while another is looked at. */
import { createContext, use, useSyncExternalStore } from 'react'
import type { OutcomeOf } from '#shared/domain/job-outcome.ts'
import type { ImportReport } from '#shared/domain/import.ts'
import { throttle } from '../../client/throttle.ts'
import { describeError } from '../../client/errors.ts'
import { type ByHand, type Entry, type NameRule, type Reading, type SweepDraft } from './desk-model.ts'
import { added, changed, edit, NO_HISTORY, removed, type DeskList, type History } from './edits.ts'
import { redoEdit, undoEdit } from '../../ui/undo-history.ts'
import type { FileBytes } from '../../client/send-file.ts'
import { FileReading, type FileCalls } from './read-files.ts'

export interface DeskSnapshot {
  readonly history: History
  readonly readings: ReadonlyMap<number, Reading>
  readonly selected: ReadonlySet<number>
  readonly draft: SweepDraft
  /** The import started last from here, and the files that went into it. */
  readonly job: { readonly id: string; readonly keys: readonly number[] } | null
}

/** Readings pour in by the thousand; the list is drawn anew at most this often, ms. */
const PUBLISH_MS = 150

interface ChosenFile extends FileBytes {
  readonly name: string
}

/** What became of an import. */
export interface ImportEnd extends ImportReport, Pick<OutcomeOf<'import'>, 'state' | 'failure'> {
  readonly jobId: string
}

export class ImportDesk {
  #snapshot: DeskSnapshot = {
    history: NO_HISTORY,
    readings: new Map(),
    selected: new Set(),
    draft: { setting: '', refresh: '' },
    job: null,
  }
  readonly #readings = new Map<number, Reading>()
  readonly #listeners = new Set<() => void>()
  readonly #publish = throttle(() => this.#set({ readings: new Map(this.#readings) }), PUBLISH_MS)
  readonly #files = new FileReading({
    describe: describeError,
    onReading: (key, reading) => {
      this.#readings.set(key, reading)
      this.#publish()
    },
  })
  #nextKey = 1
  #client: { readonly files: FileCalls } | null = null

  readonly subscribe = (listener: () => void): (() => void) => {
    this.#listeners.add(listener)
    return () => this.#listeners.delete(listener)
  }
  readonly snapshot = (): DeskSnapshot => this.#snapshot

  /** Where the host is asked; null while there is no line to it. */
  readonly use = (client: { readonly files: FileCalls } | null): void => {
    if (client === this.#client) return
    this.#client = client
    this.#files.use(client?.files ?? null)
  }

  readonly add = (files: readonly ChosenFile[]): void => {
    if (files.length === 0) return
    const sorted = [...files].sort((a, b) => a.name.localeCompare(b.name, 'en', { numeric: true }))
    const entries = sorted.map((file) => ({ key: this.#nextKey++, name: file.name, bytes: file.size }))
    entries.forEach(({ key }, i) => this.#files.add(key, sorted[i] as ChosenFile))
    const { present: list } = this.#snapshot.history
    this.#edit(added(list, entries), `choosing ${countOf(files.length)}`)
    const [first] = entries
    if (this.#snapshot.selected.size === 0 && first !== undefined) this.select(new Set([first.key]))
  }

  readonly remove = (keys: ReadonlySet<number>): void => {
    if (keys.size === 0) return
    const { entries } = this.#snapshot.history.present
    const last = entries.findLastIndex(({ key }) => keys.has(key))
    this.#edit(removed(this.#snapshot.history.present, keys), `removing ${countOf(keys.size)}`)
    // The keyboard goes on where it was.
    const rest = this.#snapshot.history.present.entries
    const next = entries.slice(last + 1).find(({ key }) => !keys.has(key)) ?? rest.at(-1)
    this.select(new Set(next === undefined ? [] : [next.key]))
  }

  /** Says something by hand about some files. `sign`: edits of one kind on the same files run into one. */
  readonly say = (
    keys: ReadonlySet<number>,
    what: string,
    sign: string,
    say: (entry: Entry) => Partial<ByHand>,
  ): void => this.#edit(changed(this.#snapshot.history.present, keys, say), what, `${sign} ${[...keys].join(' ')}`)

  readonly setRule = (rule: NameRule): void =>
    this.#edit({ ...this.#snapshot.history.present, rule }, 'changing how names are read', `rule ${rule.kind}`)

  readonly undo = (): void => this.#apply(undoEdit(this.#snapshot.history))
  readonly redo = (): void => this.#apply(redoEdit(this.#snapshot.history))

  readonly select = (keys: ReadonlySet<number>): void => this.#set({ selected: keys })
  readonly setDraft = (draft: SweepDraft): void => this.#set({ draft })
  readonly setJob = (job: DeskSnapshot['job']): void => this.#set({ job })

  /** Takes what is stored now out of the list; what was left out stays there, with everything said about it. */
  readonly settle = (report: ImportEnd): void => {
    const { job, history } = this.#snapshot
    if (job === null || job.id !== report.jobId || report.state !== 'finished') return
    const leftOut = new Set(report.problems.filter(({ kept }) => !kept).map(({ position }) => job.keys[position]))
    const done = new Set(job.keys.filter((key) => !leftOut.has(key)))
    const stored = history.present.entries.filter(({ key }) => done.has(key)).length
    if (stored === 0) return
    this.#edit(removed(history.present, done), `clearing ${stored} imported`)
    this.select(new Set())
  }

  #edit(list: DeskList, what: string, sign = ''): void {
    this.#apply(edit(this.#snapshot.history, list, what, sign))
  }

  #apply(history: History): void {
    this.#set({ history })
    this.#files.want(history.present.entries.map(({ key, name, hand }) => ({ key, name, mapping: hand.mapping })))
  }

  #set(change: Partial<DeskSnapshot>): void {
    this.#snapshot = { ...this.#snapshot, ...change }
    for (const listener of this.#listeners) listener()
  }
}

const countOf = (n: number): string => (n === 1 ? '1 recording' : `${n} recordings`)

const DeskContext = createContext(new ImportDesk())

export const useDesk = (): ImportDesk => use(DeskContext)

export function useDeskSnapshot(): DeskSnapshot {
  const desk = useDesk()
  return useSyncExternalStore(desk.subscribe, desk.snapshot)
}
