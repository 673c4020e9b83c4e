import { useMemo, useState } from 'react'
import { describeError } from '../../client/errors.ts'
import { useHostQuery } from '../../client/queries.ts'
import { LinePlot } from '../../plot/line-plot.tsx'
import type { Span } from '../../plot/view-moves.ts'
import { Segmented } from '../../ui/controls.tsx'
import { milliseconds, significant } from '../../ui/format.ts'
import { useSettled } from '../../ui/use-settled.ts'

const REST_MS = 200
const REACHES = [
  { id: '500', label: '500 Hz' },
  { id: '2000', label: '2 kHz' },
  { id: 'all', label: 'All' },
] as const
type Reach = (typeof REACHES)[number]['id']
/** Lines named beside the plot. */
const NAMED = 4

export interface SpectrumStripProps {
  readonly captureId: number
  /** s from the first sample. */
  readonly span: Span
  /** What bounds the span, where it is not the view. */
  readonly between: string | null
  /** Of the whole record, s. */
  readonly recordS: number
}

/** Amplitude spectrum of the span between the cursors, or of what is in view. */
export function SpectrumStrip({ captureId, span, between, recordS }: SpectrumStripProps) {
  const [reach, setReach] = useState<Reach>('2000')
  const [fromS, toS] = useSettled(span, REST_MS)
  const answer = useHostQuery(
    ['capture', captureId, 'spectrum', fromS, toS],
    (client, signal) => client.captures.spectrum({ captureId, fromS, toS }, { signal }),
    { keep: true },
  )
  const spectrum = answer.data ?? null
  const data = useMemo(() => {
    if (spectrum === null) return null
    const x = Float64Array.from(spectrum.amplitudeV, (_, k) => k * spectrum.binHz)
    const high = spectrum.amplitudeV.map((value) => value * 1000)
    return { x, low: high, high }
  }, [spectrum])
  const top = data === null ? 0 : (data.x[data.x.length - 1] ?? 0)
  const shown: Span = [0, reach === 'all' ? top : Math.min(top, Number(reach))]
  const problem = answer.error === null ? '' : describeError(answer.error).message
  return (
    <div className="strip">
      <div className="strip-head">
        <strong>Spectrum, mV over Hz</strong>
        <span className="minor">
          {problem !== ''
            ? problem
            : spectrum === null
              ? 'Reading…'
              : `of the ${milliseconds(spectrum.toS - spectrum.fromS)} ms ${between === null ? 'in view' : `between ${between}`}; ` +
                `lines closer than ${significant(2 * spectrum.resolutionHz, 2)} Hz are one. ${spectrum.note}`}
        </span>
        <Segmented label="Frequencies shown" value={reach} choices={REACHES} onChange={setReach} />
      </div>
      <div className="spectrum-body">
        {data === null || problem !== '' ? (
          <p className="strip-empty">{problem === '' ? 'Reading the spectrum…' : 'No spectrum.'}</p>
        ) : (
          <LinePlot {...data} span={shown} aboutZero={false} description="Amplitude spectrum" />
        )}
        {/* What is said of no lines is longer than a low strip; the keyboard can scroll it. */}
        <ul className="spectrum-lines" aria-label="Lines that stand out" tabIndex={0}>
          {(spectrum?.lines ?? []).slice(0, NAMED).map((line) => (
            <li key={line.frequencyHz}>
              <strong>{significant(line.frequencyHz, 4)} Hz</strong> {significant(line.amplitudeV * 1000, 3)} mV
              {line.name === '' ? null : <span className="minor"> {line.name}</span>}
            </li>
          ))}
          {spectrum !== null && spectrum.lines.length === 0 ? (
            <li className="minor">
              No line stands out.
              {between === null && spectrum.toS - spectrum.fromS < 0.99 * recordS
                ? ' “Record” separates close lines better.'
                : ''}
            </li>
          ) : null}
        </ul>
      </div>
    </div>
  )
}
