/** The plan first, then aiming and the list before the start, then one Start. */
import { useState } from 'react'
import type { SweepCommands } from './use-sweep-commands.ts'
import { useHostState } from '../../client/host.tsx'
import { OpenDemo } from '../../parts/open-demo.tsx'
import { useShortcut } from '../../ui/shortcuts.ts'
import { AimCard } from './aim-card.tsx'
import { Destination, takes, targetFor, type Target } from './destination.tsx'
import { PlanCard } from './plan-card.tsx'
import { PreflightCard } from './preflight-card.tsx'
import type { PlanInHand } from './use-plan.ts'
import type { BenchView } from './use-view.ts'

export interface PlanScreenProps {
  readonly view: BenchView
  readonly plan: PlanInHand
  readonly commands: SweepCommands
  readonly simulated: boolean
}

export function PlanScreen({ view, plan, commands, simulated }: PlanScreenProps) {
  const [chosen, setChosen] = useState<Target | null>(null)
  const stimulusReady = useHostState(({ stimulus }) => stimulus.kind === 'simulated' || stimulus.connected)
  const fits = chosen !== null && (!('id' in chosen) ? simulated : takes(chosen, simulated))
  const target = fits ? chosen : targetFor(view.campaigns, view.campaign, simulated)
  const blockers = [
    commands.obstacle,
    view.running ? 'A sweep is running.' : '',
    target === null ? 'Create a campaign for the measured data.' : '',
    stimulusReady ? '' : 'Open the stimulus on the display under test.',
  ].filter((text) => text !== '')
  // What is wrong with the plan itself stands in its place already.
  const startable = plan.reading.plan !== null && (plan.check?.problems ?? []).length === 0 && blockers.length === 0
  const start = () => {
    if (plan.reading.plan !== null && target !== null && startable) commands.startNew(plan.reading.plan, target)
  }
  useShortcut('run', start, !commands.busy)
  const earlier = new Set(view.sweeps.map((sweep) => sweep.plan.setting))
  return (
    <div className="plan-screen">
      <PlanCard
        draft={plan.draft}
        onDraft={plan.setDraft}
        reading={plan.reading}
        check={plan.check}
        simulated={simulated}
        earlierSettings={[...earlier]}
        destination={
          <Destination
            campaigns={view.campaigns}
            inView={view.campaign}
            target={target}
            simulated={simulated}
            onChoose={setChosen}
          />
        }
        blockers={blockers}
        startable={startable}
        busy={commands.busy}
        onStart={start}
      />
      <div className="plan-side">
        {view.campaigns.length === 0 ? <OpenDemo /> : null}
        <PreflightCard plan={plan.reading.plan} able={commands.obstacle === '' && stimulusReady && !view.running} />
        <AimCard plan={plan.reading.plan} />
      </div>
    </div>
  )
}
