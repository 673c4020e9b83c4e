import { initial } from './0001-initial.ts'
import { notes } from './0002-notes.ts'
import { hiddenSweeps } from './0003-hidden-sweeps.ts'
import { triggerTime } from './0004-trigger-time.ts'
import { campaigns } from './0005-campaigns.ts'
import { batches } from './0006-batches.ts'
import { latency } from './0007-latency.ts'
import { choices } from './0008-choices.ts'
import { secondChannel } from './0009-second-channel.ts'
import { wholeRecords } from './0010-whole-records.ts'

/** One step of the schema. `sql` is frozen once shipped. */
export interface Migration {
  readonly version: number
  readonly name: string
  readonly sql: string
}

/** In order; versions rise by any amount. */
export const MIGRATIONS: readonly Migration[] = [
  initial,
  notes,
  hiddenSweeps,
  triggerTime,
  campaigns,
  batches,
  latency,
  choices,
  secondChannel,
  wholeRecords,
]
