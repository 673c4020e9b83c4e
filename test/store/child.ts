/** A process that stores captures one after the other and says which are acknowledged, until it is killed. */
import { seededRandom } from '../../src-shared/domain/seeded-random.ts'
import { clock, collectingLog, openTestStore, testCapture, testResult, testSweep, testTrace } from './fixtures.ts'

const [path = '', mode = 'capture'] = process.argv.slice(2)
const store = await openTestStore(path, collectingLog())
const [sweep] = await store.sweeps({})
const sweepId = sweep?.id ?? (await testSweep(store, 100_000)).sweepId
const done = new Set((await store.progress(sweepId)).map(({ position }) => position))
process.stdout.write(`open ${clock.iso()}\n`)

if (mode === 'hold') setInterval(() => undefined, 1000)
else
  for (let position = 0; ; position++) {
    if (done.has(position)) continue
    // Of very different lengths, so that the kill meets every part of a transaction and of a checkpoint.
    const trace = testTrace(position, 200 + Math.floor(60_000 * seededRandom(position)() ** 3))
    await store.addCapture(testCapture(sweepId, position, { trace }), testResult({ snr: position }))
    process.stdout.write(`stored ${position}\n`)
  }
