/** A simulated archive with planted defects: sweeps of 150 captures, all of it from one seed. */
import { random } from '#main/rig/simulated/optics/noise.ts'
import type { NewCapture } from '#shared/domain/stored.ts'
import type { Store } from '#main/core/ports.ts'
import type { Sweep } from '#shared/domain/capture.ts'
import { recipeHash } from '#shared/domain/recipe.ts'
import type { Result } from '#shared/domain/result.ts'
import { walkOf, type WalkStep } from '#shared/domain/walk.ts'
import { edgeOf, groupFlags, type GroupRow } from '#shared/measure/group-flags.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { inputOf, makeCapture, type MadeCapture } from './capture.ts'
import { DEFECT_KINDS, type DefectKind } from './kinds.ts'
import { matters } from './matters.ts'
import { describe, drawDefect, type Defect } from './plant.ts'
import { setupOf, type Setup } from './setups.ts'

export interface ArchivePlan {
  readonly seed: number
  readonly captures: number
  /** Captures with each of the ten kinds. */
  readonly perKind: number
}

/** Captures of one sweep: 30 ordered pairs, 5 repeats. */
export const PER_SWEEP = 150

/** 1 % of the captures, evenly over the kinds. */
export function onePercent(seed: number, captures: number): ArchivePlan {
  return { seed, captures, perKind: Math.round((0.01 * captures) / DEFECT_KINDS.length) }
}

export interface MadeSweep {
  readonly number: number
  readonly setup: Setup
  readonly steps: readonly WalkStep[]
  readonly defects: ReadonlyMap<number, Defect>
}

/** Where every defect goes, drawn before any capture is made: sweep number → position → defect. */
function placeDefects(plan: ArchivePlan, setupAt: (number: number) => Setup): Map<number, Map<number, Defect>> {
  const next = random(plan.seed, 4002)
  const sweeps = new Map<number, Map<number, Defect>>()
  const walks = new Map<number, readonly WalkStep[]>()
  for (const kind of DEFECT_KINDS) {
    // A small archive may hold no transition that can show a kind: then it has fewer of it.
    for (let placed = 0, tries = 0; placed < plan.perKind && tries < 200 * plan.perKind; tries++) {
      const capture = Math.floor(next() * plan.captures)
      const number = Math.floor(capture / PER_SWEEP)
      const position = capture % PER_SWEEP
      const taken = sweeps.get(number) ?? new Map<number, Defect>()
      if (taken.has(position)) continue
      const setup = setupAt(number)
      const walk = walks.get(number) ?? walkOf(setup.plan)
      walks.set(number, walk)
      const step = walk[position] as WalkStep
      const defect = drawDefect(kind, setup, step, next)
      if (defect === null || !matters(setup, step, defect)) continue
      sweeps.set(number, taken.set(position, defect))
      placed++
    }
  }
  return sweeps
}

/** Sweeps of the archive in order; the last one ends early where the count asks for it. */
export function sweepsOf(plan: ArchivePlan): MadeSweep[] {
  const setups = new Map<number, Setup>()
  const setupAt = (number: number): Setup => {
    const setup = setups.get(number) ?? setupOf(plan.seed, number)
    setups.set(number, setup)
    return setup
  }
  const defects = placeDefects(plan, setupAt)
  return Array.from({ length: Math.ceil(plan.captures / PER_SWEEP) }, (_, number) => {
    const setup = setupAt(number)
    const steps = walkOf(setup.plan).slice(0, plan.captures - number * PER_SWEEP)
    return { number, setup, steps, defects: defects.get(number) ?? new Map<number, Defect>() }
  })
}

export function captureAt(sweep: MadeSweep, step: WalkStep): MadeCapture {
  return makeCapture(sweep.setup, step, sweep.defects.get(step.position) ?? null)
}

export interface MeasuredCapture {
  readonly step: WalkStep
  readonly kind: DefectKind | null
  readonly defect: Defect | null
  readonly result: Result
  /** Flags of the capture alone and of the comparison with its sweep. */
  readonly flags: Result['flags']
}

/** Makes and measures the captures of one sweep, and compares them with one another. */
export function measureSweep(sweep: MadeSweep): MeasuredCapture[] {
  const alone = sweep.steps.map((step) => {
    const made = captureAt(sweep, step)
    return { step, made, result: measureCapture(inputOf(sweep.setup, made)) }
  })
  const rows = alone.map(({ made, result }) => groupRowOf(sweep.setup, made, result))
  const group = groupFlags(rows)
  return alone.map(({ step, made, result }) => ({
    step,
    kind: made.defect?.kind ?? null,
    defect: made.defect,
    result,
    flags: [...result.flags, ...group.filter((one) => one.captureId === step.position).map((one) => one.flag)],
  }))
}

function groupRowOf(setup: Setup, { step, frameLog }: MadeCapture, result: Result): GroupRow {
  return {
    info: { id: step.position, from: step.from, to: step.to },
    values: result.values,
    uncertainties: result.uncertainties,
    ...(result.common === undefined ? {} : { common: result.common }),
    flags: result.flags.map((flag) => flag.id),
    edgeS: edgeOf(result.landmarks),
    sinceTriggerS: frameLog.sinceTriggerS ?? null,
    frameS: 1 / setup.plan.refreshHz,
  }
}

const IDENTITY = 'Slewlight simulation, planted defects (invented)'

/**
 * Writes an archive through a store: one campaign per invented panel, all sweeps finished, results and the flags of
 * comparison included. Every planted defect is told in the sweep's log. Answers how many captures were stored.
 */
export async function writeArchive(
  store: Store,
  plan: ArchivePlan,
  onProgress: (done: number) => void = () => undefined,
): Promise<number> {
  const campaigns = new Map<string, number>()
  let done = 0
  for (const sweep of sweepsOf(plan)) {
    const { panel } = sweep.setup.simulation
    let campaignId = campaigns.get(panel)
    if (campaignId === undefined) {
      const campaign = await store.createCampaign({
        name: `Planted defects, ${panel}`,
        display: `Simulated ${panel} (invented)`,
        note: `Seed ${plan.seed}; what was planted stands in each sweep’s log.`,
      })
      campaignId = campaign.id
      campaigns.set(panel, campaignId)
    }
    done += await writeSweep(store, campaignId, sweep)
    onProgress(done)
  }
  return done
}

async function writeSweep(store: Store, campaignId: number, sweep: MadeSweep): Promise<number> {
  const { setup, steps } = sweep
  const { hash } = await store.saveRecipe(setup.recipe)
  if (hash !== recipeHash(setup.recipe)) throw new Error('the store hashes recipes differently')
  const made: Sweep = await store.createSweep({
    campaignId,
    plan: setup.plan,
    origin: 'simulated',
    rigIdentity: IDENTITY,
    total: steps.length,
  })
  await store.setLadder(made.id, setup.ladder)
  const stored = await Promise.all(
    steps.map(async (step) => {
      const capture = captureAt(sweep, step)
      const result = measureCapture(inputOf(sweep.setup, capture))
      const info = await store.addCapture(newCapture(made.id, sweep, step, capture, result), result)
      return { info, capture, result }
    }),
  )
  const rows = stored
    .filter(({ info }) => info.verdict === 'good')
    .map(({ info, capture, result }) => ({
      ...groupRowOf(setup, capture, result),
      info: { id: info.id, from: info.from, to: info.to },
    }))
  await store.setGroupFlags(made.id, hash, groupFlags(rows))
  for (const { info, capture } of stored) {
    if (capture.defect === null) continue
    await store.log({
      sweepId: made.id,
      level: 'info',
      text: `Capture ${info.id}: planted ${describe(capture.defect)}`,
    })
  }
  await store.setSweepState(made.id, 'finished', '')
  return stored.length
}

function newCapture(
  sweepId: number,
  sweep: MadeSweep,
  step: WalkStep,
  capture: MadeCapture,
  result: Result,
): NewCapture {
  const taken = new Date(
    Date.UTC(2030, 0, 1) + 1000 * (sweep.number * PER_SWEEP + step.position) * sweep.setup.plan.spacingS,
  )
  return {
    sweepId,
    from: step.from,
    to: step.to,
    repeat: step.repeat,
    attempt: 1,
    position: step.position,
    takenAt: taken.toISOString(),
    verdict: result.landmarks.crossMidS === null ? 'no-edge' : 'good',
    trace: capture.trace,
    triggerIndex: capture.triggerIndex,
    source: IDENTITY,
    frameLog: capture.frameLog,
  }
}
