import { memo } from 'react'
import type { Recipe } from '#shared/domain/recipe.ts'
import { useHostState } from '../../client/host.tsx'
import { pair } from '../../ui/format.ts'
import { TraceView } from './trace-view.tsx'
import { useLive } from './use-live.ts'

/** How often the host is asked for the newest capture of a sweep, ms. */
const ASK_MS = 50

/** The newest capture of the sweep that runs; what an earlier one left is not shown. */
export const LiveTrace = memo(function LiveTrace({ recipe, sweepId }: { recipe: Recipe | null; sweepId: number }) {
  const { frame, problem } = useLive(ASK_MS)
  const ladder = useHostState(({ sweep }) => sweep?.state === 'ladder')
  const lost = useHostState(({ rig }) => rig.status === 'lost')
  const shown = frame !== null && frame.sweepId === sweepId ? frame : null
  const name = shown === null || shown.from === null || shown.to === null ? '' : pair(shown.from, shown.to)
  const empty =
    problem !== ''
      ? problem
      : lost
        ? 'No trace. The rig does not answer.'
        : ladder
          ? 'The ladder is measured first; the transitions follow.'
          : 'The first capture is in progress.'
  return (
    <section className="trace-pane" aria-label="Trace">
      <TraceView
        head={
          <div className="trace-name">
            <h2>Newest capture</h2>
            <span className="pane-pair">{name}</span>
            <span className="minor">sweep {sweepId}</span>
          </div>
        }
        name={name}
        shown={shown === null ? null : { ...shown, triggerS: shown.triggerS ?? null }}
        result={shown?.result ?? null}
        recipe={recipe}
        empty={empty}
        absent="Being measured."
      />
    </section>
  )
})
