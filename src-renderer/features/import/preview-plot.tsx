import { useEffect, useMemo, useRef, useState } from 'react'
import { describeError } from '../../client/errors.ts'
import { useHostQuery } from '../../client/queries.ts'
import { TracePlot, type TracePlotHandle, type TimeView } from '../../plot/trace-plot.tsx'
import { traceScene, type TraceScene } from '../../plot/trace-scene.ts'
import { fixed, plural, significant } from '../../ui/format.ts'
import type { Row } from './desk-model.ts'

const COLUMNS = 2000

/** The samples of one recording as its columns are read now. */
export function PreviewPlot({ lead }: { lead: Row }) {
  const plot = useRef<TracePlotHandle>(null)
  const [view, setView] = useState<TimeView>('record')
  const readable = lead.preview !== null && lead.preview.problem === null && lead.preview.sampleRateHz > 0
  const mapping = lead.preview?.mapping ?? null
  const drawn = useHostQuery(
    ['import-preview', lead.fileId, mapping],
    (client, signal) =>
      client.files.importPreview({ fileId: lead.fileId ?? '', name: lead.name, mapping, columns: COLUMNS }, { signal }),
    { enabled: readable && lead.fileId !== null },
  )
  const preview = readable ? (drawn.data ?? null) : null
  const { from, to } = lead
  const scene = useMemo((): TraceScene | null => {
    if (preview === null || preview.envelope === null) return null
    return traceScene({
      envelope: preview.envelope,
      landmarks: null,
      refreshHz: 0,
      rangeV: null,
      triggerS: preview.triggerIndex > 0 ? preview.triggerIndex / preview.sampleRateHz : null,
      from,
      to,
      referencePercent: null,
      overshootPct: null,
      undershootPct: null,
    })
  }, [preview, from, to])
  useEffect(() => plot.current?.show(scene), [scene])

  const words =
    preview === null
      ? ''
      : `${plural(preview.sampleCount, 'sample')} at ${significant(preview.sampleRateHz / 1000, 4)} kS/s, ${fixed(preview.minV, 3)} to ${fixed(preview.maxV, 3)} V`
  return (
    <section className="preview-plot" aria-label="Trace of the file">
      <div className="trace-area">
        <TracePlot
          ref={plot}
          view={view}
          // The edge is not known before it is measured: the whole record is the way back.
          onView={(next) => setView(next === 'edge' ? 'record' : next)}
          description={scene === null ? 'No trace to show' : `Trace of ${lead.name}: ${words}`}
        />
        {scene === null ? <p className="trace-empty">{emptyWords(lead, drawn.error)}</p> : null}
      </div>
      <p className="trace-legend">
        <span>Signal, V</span>
        <span>{words}</span>
        <span className="trace-axis">{scene === null ? 'Time, ms' : `Time from ${scene.origin}, ms`}</span>
      </p>
    </section>
  )
}

function emptyWords(lead: Row, error: Error | null): string {
  if (error !== null) return describeError(error).message
  if (lead.state === 'unreadable') return 'Nothing can be drawn until the columns are read.'
  if (lead.state === 'interval') return 'The time axis needs the sample interval.'
  return 'Reading the file…'
}
