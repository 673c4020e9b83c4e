/** Flags that people accept for a whole sweep. */
import { AppError } from '#shared/domain/errors.ts'
import type { AcceptedFlag, NewAcceptedFlag } from '#shared/domain/desk.ts'
import type { FlagId } from '#shared/domain/result.ts'
import type { Archive } from '../archive.ts'

/** Those that stand, of all sweeps, oldest first. */
export function acceptedFlags(archive: Archive): AcceptedFlag[] {
  return archive
    .sql(
      'SELECT sweep_id AS sweepId, flag, reason, reviewer, at FROM accepted_flag WHERE withdrawn_at IS NULL ORDER BY id',
    )
    .all() as AcceptedFlag[]
}

/** A flag accepted before is accepted anew, with the new reason. */
export function acceptFlag(archive: Archive, { sweepId, flag, reason, reviewer }: NewAcceptedFlag): AcceptedFlag {
  return archive.write(() => {
    if (archive.sql('SELECT 1 FROM sweep WHERE id = ?').get(sweepId) === undefined)
      throw new AppError('not-found', `Sweep ${sweepId} is not in the archive.`)
    withdraw(archive, sweepId, flag)
    archive
      .sql('INSERT INTO accepted_flag (sweep_id, flag, reason, reviewer, at) VALUES (?, ?, ?, ?, ?)')
      .run(sweepId, flag, reason, reviewer, archive.at)
    return { sweepId, flag, reason, reviewer, at: archive.at }
  })
}

/** Its captures are doubtful for it again. Nothing happens when it was not accepted. */
export function withdrawFlag(archive: Archive, { sweepId, flag }: { sweepId: number; flag: FlagId }): null {
  archive.write(() => withdraw(archive, sweepId, flag))
  return null
}

function withdraw(archive: Archive, sweepId: number, flag: FlagId): void {
  archive
    .sql('UPDATE accepted_flag SET withdrawn_at = ? WHERE sweep_id = ? AND flag = ? AND withdrawn_at IS NULL')
    .run(archive.at, sweepId, flag)
}
