import type { Recipe } from '#shared/domain/recipe.ts'
import { describeError } from '../../client/errors.ts'
import { useCapture, useHostQuery } from '../../client/queries.ts'
import { useExports } from '../../client/use-exports.ts'
import { Action } from '../../ui/controls.tsx'
import { pair } from '../../ui/format.ts'
import { VERDICT_WORDS } from '../../ui/words.ts'
import { TRACE_COLUMNS, TraceView } from './trace-view.tsx'

export interface StoredTraceProps {
  readonly captureId: number
  readonly recipe: Recipe | null
  readonly recipeHash: string
}

/** One stored capture under the recipe of the screens. */
export function StoredTrace({ captureId, recipe, recipeHash }: StoredTraceProps) {
  const capture = useCapture(captureId, recipeHash)
  const trace = useHostQuery(['capture', captureId, recipeHash, 'trace'], (client, signal) =>
    client.captures.trace({ captureId, recipeHash, columns: TRACE_COLUMNS }, { signal }),
  )
  const exports = useExports()
  const error = capture.error ?? trace.error
  const { data } = trace
  const info = data?.info
  return (
    <section className="trace-pane" aria-label="Trace">
      <TraceView
        head={
          <>
            <div className="trace-name">
              <h3>Capture {captureId}</h3>
              {info === undefined ? null : (
                <span className="minor">
                  sweep {info.sweepId}, repeat {info.repeat}
                  {info.attempt > 1 ? `, attempt ${info.attempt}` : ''}, {VERDICT_WORDS[info.verdict]}
                </span>
              )}
            </div>
            <Action size="small" isPending={exports.busy} onPress={() => exports.save({ what: 'trace', captureId })}>
              Save trace
            </Action>
          </>
        }
        name={info === undefined ? '' : pair(info.from, info.to)}
        shown={
          data === undefined
            ? null
            : {
                envelope: data.conditioned ?? data.raw,
                refreshHz: data.refreshHz,
                rangeV: data.rangeV,
                triggerS: data.info.triggerIndex / data.info.sampleRateHz,
                from: data.info.from,
                to: data.info.to,
              }
        }
        result={capture.data?.result ?? null}
        recipe={recipe}
        empty={error === null ? 'Reading the trace…' : describeError(error).message}
        absent="Not measured under this recipe."
      />
    </section>
  )
}
