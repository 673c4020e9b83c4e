import type { Sweep } from '#shared/domain/capture.ts'
import { EVERYTHING, writeAddress } from '../../navigation/address.ts'

/** Ways to the screens that show a sweep. */
export function SweepLinks({ sweep, size = 'normal' }: { sweep: Sweep; size?: 'normal' | 'small' }) {
  const query = `campaign=${sweep.campaignId}&sweep=${sweep.id}`
  const traces = writeAddress({ captureId: null, filter: { ...EVERYTHING, sweepId: sweep.id } })
  const look = `button button-plain button-${size} link-button`
  return (
    <>
      <a className={look} href={`#/bench?${query}`} aria-label={`Show sweep ${sweep.id} on the Bench`}>
        Bench
      </a>
      <a className={look} href={traces} aria-label={`Show the traces of sweep ${sweep.id}`}>
        Traces
      </a>
    </>
  )
}
