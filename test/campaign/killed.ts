/** A campaign on the command line whose process is killed again and again, each time taken up where it was. */
import { createHash } from 'node:crypto'
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import Database from 'better-sqlite3'
import { random } from '#main/rig/simulated/optics/noise.ts'
import { createClock } from '#main/platform/clock.ts'
import { openStore } from '#main/store/store.ts'
import { DEFAULT_RECIPE, recipeHash } from '#shared/domain/recipe.ts'
import { walkOf } from '#shared/domain/walk.ts'
import { SILENT } from '../support/bench-core.ts'
import { type Running, slewlight } from '../support/program.ts'
import { createStoreWorker } from '../support/workers.ts'
import { capturesOf } from '../support/captures.ts'

export interface KilledCampaign {
  readonly settings: readonly string[]
  readonly refreshHz: readonly number[]
  readonly repeats: number
  readonly speed: number
  readonly kills: number
  /** Longest a process lives on once the captures drawn for its kill are stored, ms; about what one capture takes. */
  readonly atMostMs: number
  readonly seed: number
}

export interface KilledOutcome {
  readonly captures: number
  /** Captures that were stored when a process was killed, one number a kill. */
  readonly storedAtKill: readonly number[]
  /** What was lost, doubled or changed, in words. */
  readonly problems: readonly string[]
}

interface Stored {
  readonly sweepId: number
  readonly position: number
  readonly hash: string
}

async function look(archive: string, problems: string[]): Promise<{ good: Map<number, Stored>; finished: boolean }> {
  const store = await openStore({ path: archive, createWorker: createStoreWorker, clock: createClock(), log: SILENT })
  try {
    const good = new Map<number, Stored>()
    const [campaign] = await store.campaigns()
    if (campaign === undefined) return { good, finished: false }
    const [run] = await store.runs({ campaignId: campaign.id })
    for (const sweepId of run?.sweepIds ?? []) {
      const rows = await capturesOf(store, { recipeHash: recipeHash(DEFAULT_RECIPE), sweepId, verdict: 'good' })
      const positions = rows.map(({ info }) => info.position)
      if (new Set(positions).size !== positions.length) problems.push(`sweep ${sweepId}: a capture is there twice`)
      for (const { info } of rows) {
        const { samples } = await store.trace(info.id)
        const bytes = new Uint8Array(samples.buffer, samples.byteOffset, samples.byteLength)
        const hash = createHash('sha256').update(bytes).digest('hex')
        good.set(info.id, { sweepId, position: info.position, hash })
      }
      const sweep = await store.sweep({ sweepId })
      if (run?.state !== 'finished') continue
      const planned = walkOf(sweep.plan).map(({ position }) => position)
      const taken = new Set(positions)
      const lost = planned.filter((position) => !taken.has(position))
      if (lost.length > 0) problems.push(`sweep ${sweepId}: ${lost.length} captures are missing`)
      if (sweep.state !== 'finished') problems.push(`sweep ${sweepId} is ${sweep.state}`)
    }
    return { good, finished: run?.state === 'finished' }
  } finally {
    await store.close()
  }
}

const LEVELS = [0, 128, 255]
const LOOK_EVERY_MS = 15

/** Waits until so many captures are stored, as another process sees the archive; rejects when the program ends first. */
async function stored(archive: string, least: number, running: Running): Promise<void> {
  let ended = false
  void running.done.then(() => (ended = true))
  for (;;) {
    const db = new Database(archive, { readonly: true })
    const count = db.prepare("SELECT count(*) FROM capture WHERE verdict = 'good'").pluck().get() as number
    db.close()
    if (count >= least) return
    if (ended) throw new Error(`The program ended at ${count} captures, before ${least} were stored.`)
    await new Promise((resolve) => setTimeout(resolve, LOOK_EVERY_MS))
  }
}

/** Captures stored at which a process is to be killed, drawn evenly over the campaign, ascending. */
const placesOf = (kills: number, captures: number, next: () => number): number[] =>
  Array.from({ length: kills }, () => 1 + Math.floor(next() * (captures - kills - 1))).sort((a, b) => a - b)

export async function runKilled(folder: string, campaign: KilledCampaign): Promise<KilledOutcome> {
  const { settings, refreshHz, repeats, speed, kills, atMostMs, seed } = campaign
  const next = random(seed, 30)
  const plan = join(folder, 'plan.json')
  writeFileSync(plan, JSON.stringify({ settings, refreshHz, sweep: { levels: LEVELS, repeats } }))
  const archive = join(folder, 'killed.sqlite')
  const common = ['campaign-run', '--archive', archive, '--speed', String(speed), '--json']
  const problems: string[] = []
  const storedAtKill: number[] = []
  let before = new Map<number, Stored>()
  let resumed = false
  const check = async (): Promise<boolean> => {
    const { good, finished } = await look(archive, problems)
    for (const [id, { hash }] of before) {
      const now = good.get(id)
      if (now === undefined) problems.push(`capture ${id} is lost`)
      else if (now.hash !== hash) problems.push(`capture ${id} has other samples`)
    }
    before = good
    return finished
  }
  const planned = settings.length * refreshHz.length * LEVELS.length * (LEVELS.length - 1) * repeats
  for (const [kill, place] of placesOf(kills, planned, next).entries()) {
    const running = slewlight([...common, ...(resumed ? ['--resume', '1'] : [plan])])
    // The first word of progress: the rig is connected and the run has begun.
    await running.said(/"total":/)
    resumed = true
    // At least one capture further than the last kill: what is killed is a campaign at work, not a program starting.
    await stored(archive, Math.max(place, before.size + 1), running)
    await new Promise((resolve) => setTimeout(resolve, atMostMs * next()))
    const { signal } = await running.kill('SIGKILL')
    if (signal !== 'SIGKILL') problems.push(`it had ended before kill ${kill + 1}: the campaign is too short`)
    await check()
    storedAtKill.push(before.size)
  }
  const last = await slewlight([...common, '--resume', '1']).done
  if (last.code !== 0) problems.push(`the last process ended with ${last.code}: ${last.stderr.slice(-300)}`)
  if (!(await check())) problems.push('the run is not finished')
  return { captures: before.size, storedAtKill, problems }
}
