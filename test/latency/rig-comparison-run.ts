/**
 * `npm run latency-rig`: display minus reference on the simulated rig, where 0 is true; writes assets/latency-rig.md.
 * `npm run latency-rig 144 1450` takes so many at one refresh rate and writes nothing: to tell 95 % from 92 % with a
 * chance of error of 1 % each way takes 1450 (binomial law: 1358 held or more), of 5 % each way 730 (684).
 */
import { writeFileSync } from 'node:fs'
import { seededRandom } from '#shared/domain/seeded-random.ts'
import { delayDistribution, meanDifference } from '#shared/latency/distribution.ts'
import { manualClock } from '../simulated/manual-clock.ts'
import { rigComparison } from './rig-comparison.ts'

const EVENTS = 20
const [alone, count = '1450'] = process.argv.slice(2)
const ALL = [
  { name: 'one run each', refreshHz: 60, interleave: false, comparisons: 300 },
  { name: 'one run each', refreshHz: 144, interleave: false, comparisons: 300 },
  { name: 'display, reference, display', refreshHz: 144, interleave: true, comparisons: 300 },
]
const KINDS =
  alone === undefined
    ? ALL
    : [{ name: 'one run each', refreshHz: Number(alone), interleave: false, comparisons: Number(count) }]

/** How often a difference of two even draws of the same seeds, without rig, poll and light, holds 0. */
function drawnAlone(comparisons: number): string {
  let held = 0
  for (let k = 1; k <= comparisons; k++) {
    const [a, b] = [1, 2].map((run) => {
      const random = seededRandom((k * 1000 + Math.imul(run, 0x9e3779b9)) >>> 0)
      return delayDistribution(
        Array.from({ length: EVENTS }, () => random()),
        1,
      )
    })
    if (a == null || b == null) throw new Error('no delays')
    const { value, u95 } = meanDifference(a, b)
    if (Math.abs(value) <= u95) held++
  }
  return ((100 * held) / comparisons).toFixed(1)
}

const rows: string[] = []
for (const { name, refreshHz, interleave, comparisons } of KINDS) {
  const clock = manualClock()
  const stop = clock.run()
  // One kind after the other.
  // oxlint-disable no-await-in-loop
  const on = await rigComparison(clock, { seed: refreshHz }, { refreshHz, events: EVENTS, interleave })
  let [held, sum, width, alarms] = [0, 0, 0, 0]
  for (let k = 1; k <= comparisons; k++) {
    const { signalDelay, display, reference } = await on.compare(k * 1000)
    if (signalDelay === null || display === null || reference === null) throw new Error('no difference')
    if (Math.abs(signalDelay.value) <= signalDelay.u95) held++
    if (display.shape.verdict !== 'one-frame') alarms++
    sum += signalDelay.value
    width += signalDelay.u95
  }
  await on.close()
  // oxlint-enable no-await-in-loop
  stop()
  const percent = (part: number): string => ((100 * part) / comparisons).toFixed(1)
  rows.push(
    `| ${name}, ${refreshHz} Hz | ${comparisons} | ${percent(held)} | ${(sum / comparisons).toFixed(3)} ± ${((1.96 * width) / comparisons / 2 / Math.sqrt(comparisons)).toFixed(3)} | ${(width / comparisons).toFixed(3)} | ${percent(alarms)} |`,
  )
  process.stdout.write(`${rows.at(-1) ?? ''}\n`)
}
if (alone !== undefined) process.exit(0)
writeFileSync(
  'assets/latency-rig.md',
  [
    '# Latency: display minus reference on the simulated rig',
    '',
    `Made by \`npm run latency-rig\`: runs of ${EVENTS} events through the simulated rig’s bytes, as the program takes them, on a clock that jumps. The same simulated display stands for the reference, so that the difference is 0.`,
    '',
    '| runs | comparisons | U95 holds 0, % | mean difference, ms | mean U95, ms | spread said not to be one frame’s wait, % |',
    '|---|---|---|---|---|---|',
    ...rows,
    '',
    'A share of 300 at 95 % has a standard error of 1.3 %. A host polled every millisecond stands beside the wait for a frame, which 20 events do not tell.',
    '',
    `The seeds of the moments are fixed. Their first 300 alone, as even draws without rig, poll and light, hold 0 in ${drawnAlone(300)} %, 20,000 of them in ${drawnAlone(20_000)} %.`,
    '',
  ].join('\n'),
)
process.exit(0)
