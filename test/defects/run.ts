/**
 * `npm run defects [captures] [seed…]`: makes simulated archives (20,000 captures each, 1 % with one of ten planted
 * defects), measures them and prints how well the flags find what was planted, in the first archive and in all together.
 * Without arguments it takes the reported seeds, which were never used while the detectors were tuned, and writes
 * assets/defects.md; about two minutes an archive on two cores.
 */
import { writeFileSync } from 'node:fs'
import { availableParallelism } from 'node:os'
import { Worker } from 'node:worker_threads'
import { onePercent, type ArchivePlan } from './archive.ts'
import { BOUND, pageOf, pooledTableOf, tableOf } from './report.ts'
import { addTally, emptyTally, scoresOf, type Tally } from './score.ts'
import type { Share } from './worker.ts'

/** Seeds that are reported; the first alone is the main table. */
const REPORTED_SEEDS = [20_291]
const TUNING_SEEDS = '1 to 99, 301 to 305, 501, 7001 to 7003, 20260 to 20265, 20271 to 20275, 20281'

const [countText = '20000', ...seedTexts] = process.argv.slice(2)
const captures = Number(countText)
const seeds = seedTexts.length > 0 ? seedTexts.map(Number) : REPORTED_SEEDS
if (!Number.isInteger(captures) || captures < 150 || !seeds.every(Number.isInteger))
  throw new Error('npm run defects [captures, at least 150] [seed…]')

const pooled = emptyTally()
let first: Tally | null = null
for (const seed of seeds) {
  const started = performance.now()
  const tally = await countAll(onePercent(seed, captures), Math.min(8, availableParallelism()))
  addTally(pooled, tally)
  const seconds = (performance.now() - started) / 1000
  console.log(`seed ${seed}: ${tally.captures} captures, ${tally.sound} of them sound, in ${seconds.toFixed(0)} s`)
  if (first !== null) continue
  first = tally
  for (const line of tableOf(tally)) console.log(line)
}
if (seeds.length > 1) {
  console.log(`seeds ${seeds.join(', ')} together`)
  for (const line of pooledTableOf(pooled)) console.log(line)
}
if (process.argv.length === 2 && first !== null) {
  writeFileSync(new URL('../../assets/defects.md', import.meta.url), pageOf(seeds, TUNING_SEEDS, first, pooled))
  console.log('written to assets/defects.md')
}
for (const [name, tally] of [
  [`seed ${seeds[0]}`, first],
  ['all together', pooled],
] as const) {
  const short = scoresOf(tally ?? pooled).filter(
    ({ recall, precision }) => (recall ?? 0) < BOUND || (precision ?? 0) < BOUND,
  )
  if (short.length === 0) continue
  console.log(`${name}: under ${BOUND}: ${short.map(({ kind }) => kind).join(', ')}`)
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
