/** Which campaign and which sweep are in view: one answer for picker, header, matrix and trace. */
import { useDeferredValue, useMemo } from 'react'
import type { Campaign, Sweep } from '#shared/domain/capture.ts'
import type { SweepProgress } from '#shared/domain/views.ts'
import { useHostState } from '../../client/host.tsx'
import { useCampaigns, useHostQuery } from '../../client/queries.ts'
import { useStable } from '../../ui/use-stable.ts'
import { linkedSweep } from '../../navigation/linked-sweep.ts'
import { goTo, parseRoute, useHash } from '../../navigation/route.ts'
import { readStored, writeStored } from '../../ui/storage.ts'
import { isActive } from '../../ui/words.ts'

export interface BenchView {
  /** The lists are here; before that nothing is known to be absent. */
  readonly known: boolean
  readonly campaigns: readonly Campaign[]
  readonly campaign: Campaign | null
  /** Sweeps of the campaign in view, newest first. */
  readonly sweeps: readonly Sweep[]
  readonly sweep: Sweep | null
  /** Of the sweep in view, when the host is or was busy with it. */
  readonly progress: SweepProgress | null
  readonly running: boolean
  /** Any sweep of the archive, of the campaign in view or not. */
  readonly sweepOf: (id: number) => Sweep | null
  readonly chooseCampaign: (id: number) => void
  readonly chooseSweep: (id: number) => void
}

interface Choice {
  readonly campaignId: number | null
  readonly sweepId: number | null
}

const KEY = 'campaign'
/** Outlives the screen, so that a look at another one and back ends where it began. */
let left: Choice | null = null

function choiceOf(hash: string): Choice {
  const linked = linkedSweep(parseRoute(hash).parameters)
  if (linked.campaignId !== null || linked.sweepId !== null) return linked
  const stored = readStored(KEY)
  return left ?? { campaignId: typeof stored === 'number' ? stored : null, sweepId: null }
}

/** A sweep that runs is the one in view; else the chosen one, else the newest of the campaign. */
export function chooseView(
  campaigns: readonly Campaign[],
  sweeps: readonly Sweep[],
  choice: Choice,
  runningId: number | null,
): { readonly campaign: Campaign | null; readonly sweep: Sweep | null; readonly sweeps: readonly Sweep[] } {
  const byId = (id: number | null) => sweeps.find((sweep) => sweep.id === id)
  const asked = byId(runningId) ?? byId(choice.sweepId)
  const newest = sweeps.reduce<Sweep | undefined>((a, b) => (a !== undefined && a.id > b.id ? a : b), undefined)
  const campaignId = asked?.campaignId ?? choice.campaignId
  const campaign =
    campaigns.find(({ id }) => id === campaignId) ??
    campaigns.find(({ id }) => id === newest?.campaignId) ??
    campaigns.at(-1) ??
    null
  const own = sweeps.filter((sweep) => sweep.campaignId === campaign?.id).sort((a, b) => b.id - a.id)
  return { campaign, sweeps: own, sweep: asked ?? own[0] ?? null }
}

export function useView(): BenchView {
  const hostSweep = useHostState((state) => state.sweep)
  const campaigns = useCampaigns()
  const sweeps = useHostQuery(['sweeps', 'all'], (client, signal) => client.sweeps.list({}, { signal }))
  const { campaignId: chosenCampaign, sweepId: chosenSweep } = choiceOf(useHash())
  const running = hostSweep !== null && isActive(hostSweep.state)
  const runningId = running ? hostSweep.sweepId : null
  // Counts in the list change with every capture; drawing them waits for what is more urgent.
  const listed = useDeferredValue(sweeps.data)
  // The compiler does not keep what is made of the address.
  const view = useMemo(
    () =>
      chooseView(campaigns.data ?? [], listed ?? [], { campaignId: chosenCampaign, sweepId: chosenSweep }, runningId),
    [campaigns.data, listed, chosenCampaign, chosenSweep, runningId],
  )
  const choose = (next: Choice) => {
    left = next
    if (next.campaignId !== null) writeStored(KEY, next.campaignId)
    const parts = [
      next.campaignId === null ? '' : `campaign=${next.campaignId}`,
      next.sweepId === null ? '' : `sweep=${next.sweepId}`,
    ]
    goTo(`#/bench?${parts.filter((part) => part !== '').join('&')}`)
  }
  const chooseCampaign = (campaignId: number) => choose({ campaignId, sweepId: null })
  const chooseSweep = useStable((sweepId: number) =>
    choose({ campaignId: sweeps.data?.find(({ id }) => id === sweepId)?.campaignId ?? null, sweepId }),
  )
  return {
    ...view,
    known: campaigns.isSuccess && listed !== undefined,
    campaigns: campaigns.data ?? [],
    progress: hostSweep !== null && hostSweep.sweepId === view.sweep?.id ? hostSweep : null,
    running,
    sweepOf: (sweepId) => sweeps.data?.find(({ id }) => id === sweepId) ?? null,
    chooseCampaign,
    chooseSweep,
  }
}
