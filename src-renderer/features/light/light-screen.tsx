import { useEffect, useState } from 'react'
import type { LightReading } from '#shared/measure/light.ts'
import { useHostState } from '../../client/host.tsx'
import { useCapture, useHostQuery, useRecipes } from '../../client/queries.ts'
import { parseRoute, useHash } from '../../navigation/route.ts'
import { TraceCaption } from '../../parts/trace-caption.tsx'
import { OpenDemo } from '../../parts/open-demo.tsx'
import { EmptyState, Segmented } from '../../ui/controls.tsx'
import { TextInput } from '../../ui/fields.tsx'
import { count, milliseconds } from '../../ui/format.ts'
import { useKept } from '../../ui/use-kept.ts'
import { CaptureSource, type CaptureChoice } from './capture-source.tsx'
import { LightSpectrum, Waveform } from './light-plots.tsx'
import { ModulationChart } from './modulation-chart.tsx'
import { AllReadings, LeadingReadings } from './readings.tsx'
import { RecordingSource, type ChosenFile } from './recording-source.tsx'
import { darkLevel, type LightSource } from './source.ts'
import { StoreLight } from './store-light.tsx'
import { useLight } from './use-light.ts'
import './light.css'
import './light-plots.css'
import './readings.css'

const KINDS = [
  { id: 'capture', label: 'Stored capture' },
  { id: 'recording', label: 'Recording' },
] as const
type Kind = (typeof KINDS)[number]['id']

/** Periodic light: flicker, the waveform, its spectrum, and where its components lie against published lines. */
export function LightScreen() {
  const [kind, setKind] = useKept<Kind>('light: kind', 'capture')
  const [capture, setCapture] = useKept<CaptureChoice>('light: capture', { captureId: null, part: 'after' })
  const [file, setFile] = useKept<ChosenFile | null>('light: file', null)
  const [darkText, setDarkText] = useState('')
  const hash = useHash()
  useEffect(() => {
    const { screen, parameters } = parseRoute(hash)
    const linked = Number(parameters.get('capture'))
    if (screen !== 'light' || !(linked >= 1)) return
    setKind('capture')
    setCapture({ captureId: linked, part: parameters.get('part') === 'before' ? 'before' : 'after' })
  }, [hash, setKind, setCapture])
  const dark = darkLevel(darkText)
  const source: LightSource | null =
    kind === 'recording'
      ? file === null
        ? null
        : { kind, ...file }
      : capture.captureId === null
        ? null
        : { kind, captureId: capture.captureId, part: capture.part }
  const { reading, waiting, problem } = useLight(dark === undefined ? null : source, dark ?? null)
  return (
    <div className="panes light">
      <aside className="pane light-source" aria-label="Which light">
        <Segmented label="Source" value={kind} choices={KINDS} onChange={setKind} />
        {kind === 'capture' ? (
          <CaptureSource chosen={capture} onChoose={setCapture} />
        ) : (
          <RecordingSource file={file} onFile={setFile} />
        )}
        <TextInput
          label="Dark level"
          unit="mV"
          inputMode="decimal"
          value={darkText}
          onChange={setDarkText}
          hint="Mean with the sensor covered. If empty: as measured with the ladder, or 0."
          error={dark === undefined ? 'A number of millivolts, or nothing.' : undefined}
        />
        {reading === null || source === null ? null : <StoreLight reading={reading} source={source} />}
      </aside>
      <section className="pane light-main" aria-label="Periodic light" aria-busy={waiting}>
        {reading === null ? (
          <div className="light-empty empty-room" role="status">
            {problem !== null ? (
              <EmptyState title="The light cannot be measured">
                {problem.message} {problem.remedy}
              </EmptyState>
            ) : waiting ? (
              <p>Measuring…</p>
            ) : (
              <EmptyState title={kind === 'capture' ? 'No light to measure yet' : 'No recording chosen'}>
                {kind === 'capture'
                  ? 'This screen measures the steady part of a stored capture, or a recording of a steady picture.'
                  : 'Choose a recording of a steady picture.'}{' '}
                <OpenDemo />
              </EmptyState>
            )}
          </div>
        ) : (
          <Readings
            reading={reading}
            captureId={source?.kind === 'capture' ? source.captureId : null}
            name={file?.name}
          />
        )}
      </section>
    </div>
  )
}

interface ReadingsProps {
  readonly reading: LightReading
  /** null for a recording. */
  readonly captureId: number | null
  readonly name: string | undefined
}

function Readings({ reading, captureId, name }: ReadingsProps) {
  const span = `${milliseconds(reading.fromS)} to ${milliseconds(reading.toS)} ms, ${count(reading.samples)} samples`
  const notes = [...reading.warnings, ...reading.notes]
  return (
    <>
      <header className="light-head">
        {captureId === null ? <p className="trace-caption">{name}</p> : <Origin captureId={captureId} />}
        <p className="minor">{span}</p>
      </header>
      <LeadingReadings reading={reading} />
      <div className="light-grid">
        <Waveform reading={reading} />
        <LightSpectrum reading={reading} />
        <section className="light-plot light-context" aria-label="Modulation over frequency">
          <h2>
            Modulation over frequency <span className="context-tag">context, no verdict</span>
          </h2>
          <ModulationChart reading={reading} />
          {reading.regions.map(({ source, region, note }) => (
            <p key={source} className="hint">
              {region === 'no limit stated'
                ? `${source} states no limit at this frequency.`
                : `Percent flicker lies ${region} of ${source}.`}{' '}
              {note}
            </p>
          ))}
        </section>
        <section className="light-plot light-all" aria-label="All readings of this light" tabIndex={0}>
          <AllReadings reading={reading} />
          {notes.length === 0 ? null : (
            <ul className="light-notes" aria-label="Notes">
              {notes.map((note) => (
                <li key={note}>{note}</li>
              ))}
            </ul>
          )}
        </section>
      </div>
    </>
  )
}

function Origin({ captureId }: { captureId: number }) {
  const recipeHash = useHostState((state) => state.recipeHash)
  const recipe = useRecipes().data?.find((known) => known.hash === recipeHash)?.recipe.name ?? recipeHash
  const info = useCapture(captureId, recipeHash).data?.info ?? null
  const sweep = useHostQuery(
    ['sweeps', 'one', info?.sweepId],
    (client, signal) => client.sweeps.get({ sweepId: info?.sweepId ?? 0 }, { signal }),
    { enabled: info !== null },
  )
  return info === null ? null : <TraceCaption info={info} sweep={sweep.data ?? null} recipe={recipe} />
}
