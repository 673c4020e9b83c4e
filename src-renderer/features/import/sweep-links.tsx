import type { Sweep } from '#shared/domain/capture.ts'

/** Ways to the screens that show a sweep. */
export function SweepLinks({ sweep }: { sweep: Sweep }) {
  const query = `campaign=${sweep.campaignId}&sweep=${sweep.id}`
  return (
    <a className="button link-button" href={`#/bench?${query}`} aria-label={`Show sweep ${sweep.id} on the Bench`}>
      Show on the Bench
    </a>
  )
}
