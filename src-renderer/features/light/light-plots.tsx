import { useMemo } from 'react'
import type { LightReading } from '#shared/measure/light.ts'
import { LinePlot } from '../../plot/line-plot.tsx'
import { columnTimes } from '../../plot/trace-scene.ts'
import { significant } from '../../ui/format.ts'

const inPercent = (shares: Float32Array) => shares.map((share) => 100 * share)

/** One mean period, twice, so that its end is seen to meet its beginning; the record itself where there is none. */
export function Waveform({ reading }: { reading: LightReading }) {
  const { waveform, envelope } = reading
  const periodMs = 1000 / (reading.values.fundamental_hz ?? 1)
  const data = useMemo(() => {
    if (waveform === null)
      return {
        x: columnTimes(envelope, reading.fromS),
        low: envelope.min,
        high: envelope.max,
      }
    const twice = Float32Array.from(
      { length: 2 * waveform.length + 1 },
      (_, i) => waveform[i % waveform.length] as number,
    )
    const y = inPercent(twice)
    return { x: Float64Array.from(y, (_, i) => (i * periodMs) / waveform.length), low: y, high: y }
  }, [waveform, envelope, periodMs, reading.fromS])
  const title = waveform === null ? 'Recorded light: V, time in ms' : 'Waveform: % of the mean, time in ms'
  return (
    <section className="light-plot" aria-label="Waveform">
      <h2>
        {title}
        <span className="minor">
          {' '}
          {waveform === null ? 'no period to average' : `mean of ${reading.cycles} periods, drawn twice`}
        </span>
      </h2>
      <LinePlot {...data} span={null} aboutZero={false} description={title} />
    </section>
  )
}

const LISTED = 6
/** A component below this share of the strongest is not listed. */
const LEAST_SHARE = 0.003

/** Amplitudes up to 4 kHz, or to some ten harmonics of slower light; the strongest components by name. */
export function LightSpectrum({ reading }: { reading: LightReading }) {
  const { spectrum, components } = reading
  const fundamental = reading.values.fundamental_hz
  const data = useMemo(() => {
    if (spectrum === null) return null
    const high = inPercent(spectrum.relative)
    return { x: Float64Array.from(high, (_, k) => k * spectrum.stepHz), low: new Float32Array(high.length), high }
  }, [spectrum])
  const strongest = components.toSorted((a, b) => b.relative - a.relative)
  const listed = strongest
    .slice(0, LISTED)
    .filter(({ relative }) => relative > LEAST_SHARE * (strongest[0]?.relative ?? 1))
    .toSorted((a, b) => a.frequencyHz - b.frequencyHz)
  const top = data === null ? 0 : (data.x.at(-1) ?? 0)
  const reach = fundamental === null ? top : Math.min(top, Math.max(12 * fundamental, 500))
  return (
    <section className="light-plot" aria-label="Spectrum">
      <h2>Spectrum: % of the mean, frequency in Hz</h2>
      <div className="light-spectrum">
        {data === null ? (
          <p className="strip-empty">No spectrum: {reading.reasons.fundamental_hz ?? 'the record is too short.'}</p>
        ) : (
          <LinePlot {...data} span={[0, reach]} aboutZero={false} description="Amplitude spectrum of the light" />
        )}
        <ol className="light-components" aria-label="Strongest components">
          {listed.map(({ frequencyHz, relative }) => (
            <li key={frequencyHz}>
              <span className="digits">{significant(frequencyHz, 4)} Hz</span>
              <span className="digits">{significant(100 * relative, 3)} %</span>
              <span className="minor">{orderText(frequencyHz, fundamental)}</span>
            </li>
          ))}
          {listed.length === 0 ? <li className="minor">Nothing stands out from the noise.</li> : null}
        </ol>
      </div>
    </section>
  )
}

/** Which harmonic a component is: the fundamental is the first. */
function orderText(frequencyHz: number, fundamental: number | null): string {
  const order = fundamental === null ? 0 : Math.round(frequencyHz / fundamental)
  if (fundamental === null || order < 1 || Math.abs(frequencyHz / fundamental - order) > 0.01) return ''
  return order === 1 ? 'fundamental' : `× ${order}`
}
