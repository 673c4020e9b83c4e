/** Figures of whole sweeps, kept while what they are drawn from stays as it is. */
import type Database from 'better-sqlite3'
import type { MeasuredPoint } from '#shared/findings/campaign/figures.ts'

/** What findings need of one sweep under one recipe. */
export interface SweepFigures {
  /** Levels of its plan and of its captures, ascending. */
  readonly levels: readonly number[]
  /** Good captures without a result. */
  readonly unmeasured: number
  /** Null where no capture has a result. */
  readonly figures: MeasuredPoint['figures'] | null
}

/** Sweeps whose captures, results or standing decisions changed since it was last asked; null: any may have. */
type Changed = () => readonly number[] | null

/** More than a person looks at; each takes about a kilobyte. */
const MOST = 10_000

export class KeptPoints {
  readonly #changed: Changed
  readonly #bySweep = new Map<number, Map<string, SweepFigures>>()
  #count = 0

  constructor(changed: Changed) {
    this.#changed = changed
  }

  /** Forgets what may be outdated; to be called before asking for any. */
  refresh(): void {
    const changed = this.#changed()
    if (changed === null) this.#clear()
    else for (const sweepId of changed) this.#forget(sweepId)
  }

  of(sweepId: number, key: string, make: () => SweepFigures): SweepFigures {
    const known = this.#bySweep.get(sweepId)?.get(key)
    if (known !== undefined) return known
    const made = make()
    if (this.#count >= MOST) this.#clear()
    const own = this.#bySweep.get(sweepId) ?? new Map<string, SweepFigures>()
    own.set(key, made)
    this.#bySweep.set(sweepId, own)
    this.#count++
    return made
  }

  #forget(sweepId: number): void {
    this.#count -= this.#bySweep.get(sweepId)?.size ?? 0
    this.#bySweep.delete(sweepId)
  }

  #clear(): void {
    this.#bySweep.clear()
    this.#count = 0
  }
}

// Noted by the database itself, so that no statement can be forgotten, and taken back with a transaction that is. An
// `OR IGNORE` would be overruled by the statement that sets the trigger off. Flags, which are counted on results
// afterwards, move no figure.
const OF_ROW = `INSERT INTO changed_sweep SELECT new.sweep_id
  WHERE NOT EXISTS (SELECT 1 FROM changed_sweep k WHERE k.id = new.sweep_id);`
const ofCapture = (row: 'new' | 'old'): string =>
  `INSERT INTO changed_sweep SELECT c.sweep_id FROM main.capture c WHERE c.id = ${row}.capture_id
   AND NOT EXISTS (SELECT 1 FROM changed_sweep k WHERE k.id = c.sweep_id);`
const WATCH = `
CREATE TEMP TABLE changed_sweep (id INTEGER PRIMARY KEY) STRICT;
CREATE TEMP TRIGGER changed_capture AFTER INSERT ON main.capture BEGIN ${OF_ROW} END;
CREATE TEMP TRIGGER changed_result AFTER INSERT ON main.result BEGIN ${OF_ROW} END;
CREATE TEMP TRIGGER changed_standing AFTER INSERT ON main.standing BEGIN ${ofCapture('new')} END;
CREATE TEMP TRIGGER moved_standing AFTER UPDATE ON main.standing BEGIN ${ofCapture('new')} END;
CREATE TEMP TRIGGER removed_standing AFTER DELETE ON main.standing BEGIN ${ofCapture('old')} END;`

/** For the one connection that writes. */
export function watchSweeps(db: Database.Database): Changed {
  db.exec(WATCH)
  const read = db.prepare('SELECT id FROM changed_sweep').pluck()
  const clear = db.prepare('DELETE FROM changed_sweep')
  return () => {
    const changed = read.all() as number[]
    if (changed.length > 0) clear.run()
    return changed
  }
}

/** For a reader of what another program writes, of which only a number is known that moves with every change. */
export function anyAfter(version: () => number): Changed {
  let before = version()
  return () => {
    const now = version()
    if (now === before) return []
    before = now
    return null
  }
}
