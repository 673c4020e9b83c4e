import type { Verdict } from '#shared/domain/capture.ts'
import type { Archive } from '../archive.ts'

/** How many captures of a sweep ended with each verdict, attempts included, most first; nothing for an unknown sweep. */
export function verdicts(archive: Archive, sweepId: number): { verdict: Verdict; captures: number }[] {
  return archive
    .sql(
      `SELECT verdict, count(*) AS captures FROM capture WHERE sweep_id = ?
       GROUP BY verdict ORDER BY captures DESC, verdict`,
    )
    .all(sweepId) as { verdict: Verdict; captures: number }[]
}
