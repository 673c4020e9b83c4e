/**
 * `npm run bench [name…]`: measures the program's figures as ratios within one run, prints a table with PASS or MISS and
 * writes test-results/bench.json. Names: reference, length, reanalysis, sweep, matrix, report, preview, live
 * (four minutes), memory (twelve), desk, findings; none = all. The last four drive the built application (`npm run build`)
 * in Chromium.
 */
import { mkdirSync, writeFileSync } from 'node:fs'
import { availableParallelism, cpus } from 'node:os'
import { manyResults, storedCaptures } from './archive.ts'
import { againstReference, byLength } from './measuring.ts'
import { movingSlider } from './previewing.ts'
import { type Figure, passes } from './report.ts'
import { screenFigures } from './screens.ts'
import { campaignReports } from './reporting.ts'
import { realTimeSweep } from './sweeping.ts'

const PARTS: Record<string, () => Figure[] | Promise<Figure[]>> = {
  reference: againstReference,
  length: byLength,
  reanalysis: storedCaptures,
  sweep: realTimeSweep,
  matrix: manyResults,
  report: campaignReports,
  live: () => screenFigures('live'),
  memory: () => screenFigures('memory'),
  desk: () => screenFigures('desk'),
  findings: () => screenFigures('findings'),
  preview: movingSlider,
}

const wanted = process.argv.slice(2)
for (const name of wanted)
  if (!(name in PARTS)) throw new Error(`There is no part ${name}; there are ${Object.keys(PARTS).join(', ')}.`)
const figures: Figure[] = []
for (const [name, part] of Object.entries(PARTS)) {
  if (wanted.length > 0 && !wanted.includes(name)) continue
  for (const figure of await part()) {
    figures.push(figure)
    const verdict = passes(figure) ? 'PASS' : 'MISS'
    console.log(
      `${verdict}  ${figure.value.toFixed(figure.value < 10 ? 3 : 1)} ${figure.unit} (${figure.relation} ${figure.bound})  ${figure.what}\n      ${figure.detail}`,
    )
  }
}
const machine = { node: process.version, cores: availableParallelism(), processor: cpus()[0]?.model ?? 'unknown' }
mkdirSync(new URL('../../test-results/', import.meta.url), { recursive: true })
writeFileSync(
  new URL('../../test-results/bench.json', import.meta.url),
  `${JSON.stringify({ at: new Date().toISOString(), machine, figures: figures.map((figure) => ({ ...figure, pass: passes(figure) })) }, null, 2)}\n`,
)
const missed = figures.filter((figure) => !passes(figure)).length
console.log(`${figures.length - missed} of ${figures.length} figures reached; written to test-results/bench.json`)
if (missed > 0) process.exitCode = 1
