/** One line: what is connected, what shows levels, what the detector is, how much of the range white uses. */
import type { ReactNode } from 'react'
import { Button } from 'react-aria-components'
import type { Sweep } from '#shared/domain/capture.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { RigStatus } from '#shared/domain/rig.ts'
import type { HostState, StimulusState } from '#shared/domain/views.ts'
import { useHost, useHostState } from '../../client/host.tsx'
import { StatusDot } from '../../ui/controls.tsx'
import { fixed, hertz, milliseconds } from '../../ui/format.ts'
import { isActive, PANEL_WORDS, RIG_STATUS_WORDS } from '../../ui/words.ts'

/** While monitor or sweep record again and again, the rests between two recordings are not worth a flicker. */
export function steadyStatus({ rig, monitoring, sweep }: HostState): RigStatus {
  const repeats = monitoring || (sweep !== null && isActive(sweep.state))
  return rig.status === 'ready' && repeats ? 'recording' : rig.status
}

export const RIG_TONES = { absent: 'idle', connecting: 'warn', ready: 'good', recording: 'good', lost: 'bad' } as const

export interface StatusStripProps {
  readonly open: boolean
  readonly onToggle: () => void
  readonly recipe: Recipe | null
  readonly recipeHash: string
  readonly sweep: Sweep | null
}

export function StatusStrip({ open, onToggle, recipe, recipeHash, sweep }: StatusStripProps) {
  const status = useHostState(steadyStatus)
  const target = useHostState(({ rig }) => rig.target)
  const model = useHostState(({ rig }) => rig.identity?.model ?? '')
  const stimulus = useHostState((state) => state.stimulus)
  const heard = useHost((snapshot) => snapshot.link === 'open')
  const rig =
    target === null || status === 'absent'
      ? RIG_STATUS_WORDS[status]
      : target.kind === 'simulated'
        ? `Simulated, panel ${PANEL_WORDS[target.simulation.panel]}`
        : `${model === '' ? RIG_STATUS_WORDS[status] : model}, ${target.path}`
  const white = whiteOf(sweep)
  return (
    <div className="status-strip" role="group" aria-label="Status">
      <Part name="Rig" open={open} onToggle={onToggle}>
        <StatusDot tone={heard ? RIG_TONES[status] : 'warn'}>{rig}</StatusDot>
      </Part>
      <Part name="Stimulus" open={open} onToggle={onToggle}>
        <StatusDot tone={stimulusTone(stimulus)}>{stimulusWords(stimulus)}</StatusDot>
      </Part>
      <a className="status-part" href={`#/recipes/${recipeHash}`} title="The recipe states the detector.">
        <span className="status-name">Detector</span>
        {recipe?.detectorS === undefined || recipe.detectorS === null ? (
          <span className="status status-idle">not stated</span>
        ) : (
          <span>10–90 % in {milliseconds(recipe.detectorS)} ms</span>
        )}
      </a>
      {white === null ? null : (
        <span className="status-part">
          <span className="status-name">White of sweep {white.sweepId}</span>
          <span className={white.share > 0.9 || white.share < 0.2 ? 'warn-text' : ''}>
            {fixed(white.volts, 2)} V, {fixed(100 * white.share, 0)} % of {white.rangeV} V
          </span>
        </span>
      )}
    </div>
  )
}

function Part(props: { name: string; open: boolean; onToggle: () => void; children: ReactNode }) {
  return (
    <Button className="status-part" aria-expanded={props.open} aria-controls="set-up" onPress={props.onToggle}>
      <span className="status-name">{props.name}</span>
      {props.children}
      <span className="disclosure-arrow" aria-hidden="true" data-open={props.open} />
    </Button>
  )
}

function whiteOf(sweep: Sweep | null) {
  const step = sweep?.ladder?.steps.at(-1)
  if (sweep === null || step === undefined) return null
  const { rangeV } = sweep.plan
  return { sweepId: sweep.id, volts: step.meanV, rangeV, share: step.meanV / rangeV }
}

export function stimulusTone({
  kind,
  connected,
  fullScreen,
  problem,
}: StimulusState): 'good' | 'warn' | 'bad' | 'idle' {
  if (problem !== '') return 'bad'
  if (kind === 'none' || (kind === 'simulated' && !connected)) return 'idle'
  return kind === 'simulated' || (connected && fullScreen) ? 'good' : 'warn'
}

export function stimulusWords({ kind, connected, fullScreen, measuredHz }: StimulusState): string {
  if (kind === 'none') return 'None'
  if (kind === 'simulated') return connected ? 'Simulated display' : 'Simulated, waits for the rig'
  if (!connected) return 'Screen, not open'
  if (!fullScreen) return 'Screen, not full screen'
  return measuredHz === null ? 'Screen' : `Screen, ${hertz(measuredHz)} Hz`
}
