/**
 * `npm run defects [captures] [seed]`: makes a simulated archive (20,000 captures, 1 % with one of ten planted defects),
 * measures it, prints how well the flags find what was planted and writes assets/defects.md. The seed of the published
 * table was never used while the detectors were tuned.
 */
import { writeFileSync } from 'node:fs'
import { availableParallelism } from 'node:os'
import { Worker } from 'node:worker_threads'
import { onePercent, type ArchivePlan } from './archive.ts'
import { BOUND, pageOf, tableOf } from './report.ts'
import { addTally, emptyTally, scoresOf, type Tally } from './score.ts'
import type { Share } from './worker.ts'

/** Seed of the table that is reported. Tuning used seeds 1 to 99, 7,001 to 7,003, and 20,260 to 20,264. */
const REPORTED_SEED = 20_265
const [countText = '20000', seedText = String(REPORTED_SEED)] = process.argv.slice(2)
const plan = onePercent(Number(seedText), Number(countText))
if (!Number.isInteger(plan.captures) || plan.captures < 150 || !Number.isInteger(plan.seed))
  throw new Error('npm run defects [captures, at least 150] [seed]')
const started = performance.now()
const tally = await countAll(plan, Math.min(8, availableParallelism()))
const seconds = (performance.now() - started) / 1000
const scores = scoresOf(tally)
for (const line of tableOf(scores)) console.log(line)
console.log(`${tally.captures} captures, ${tally.sound} of them sound, in ${seconds.toFixed(0)} s`)
if (process.argv.length === 2) {
  writeFileSync(new URL('../../assets/defects.md', import.meta.url), pageOf(plan, tally, scores))
  console.log('written to assets/defects.md')
}
const short = scores.filter(({ recall, precision }) => (recall ?? 0) < BOUND || (precision ?? 0) < BOUND)
if (short.length > 0) {
  console.log(`under ${BOUND}: ${short.map(({ kind }) => kind).join(', ')}`)
  process.exitCode = 1
}

/** The archive's sweeps shared out over threads. */
async function countAll(archive: ArchivePlan, parts: number): Promise<Tally> {
  const sum = emptyTally()
  let sweeps = 0
  const shares = Array.from({ length: parts }, (_, part) => {
    const share: Share = { plan: archive, part, parts }
    return new Promise<Tally>((resolve, reject) => {
      const worker = new Worker(new URL('./worker.ts', import.meta.url), {
        workerData: share,
        execArgv: ['--disable-warning=MODULE_TYPELESS_PACKAGE_JSON'],
      })
      worker.on('message', (message: { tally?: Tally; sweep?: true }) => {
        if (message.tally) resolve(message.tally)
        else if (process.stderr.isTTY) process.stderr.write(`\r${++sweeps} sweeps`)
      })
      worker.on('error', reject)
      worker.on('exit', () => reject(new Error('a counting thread ended early')))
    })
  })
  for (const part of await Promise.all(shares)) addTally(sum, part)
  if (process.stderr.isTTY) process.stderr.write('\n')
  return sum
}
