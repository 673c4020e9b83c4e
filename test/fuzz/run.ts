/** `npm run fuzz [streams] [seed]`: random streams against everything that reads what a rig sends. */
import { fuzz } from './streams.ts'

const [streams = '200000', seed = String(Date.now() % 1_000_000)] = process.argv.slice(2)
process.stdout.write(`fuzz: ${streams} streams, seed ${seed}\n`)
const startedAt = performance.now()
const report = await fuzz(Number(streams), Number(seed))
process.stdout.write(
  `${report.accepted} accepted, ${report.refused} refused, longest ${report.longestMs.toFixed(1)} ms of processor time, ` +
    `${((performance.now() - startedAt) / 1000).toFixed(0)} s\n`,
)
