/**
 * `node test/defects/make-archive.ts OUT.sqlite [count] [seed]`: writes a simulated archive with planted defects (1 %
 * of the captures, ten kinds), measured and compared, to try the program on thousands of captures.
 */
import { existsSync } from 'node:fs'
import { createClock } from '#main/platform/clock.ts'
import { openStore } from '#main/store/store.ts'
import { createStoreWorker } from '../support/workers.ts'
import { onePercent, writeArchive } from './archive.ts'

const [path, countText = '20000', seedText = '1'] = process.argv.slice(2)
const captures = Number(countText)
const seed = Number(seedText)
if (path === undefined || !Number.isInteger(captures) || captures < 1 || !Number.isInteger(seed)) {
  console.error('node test/defects/make-archive.ts OUT.sqlite [count] [seed]')
  process.exitCode = 2
} else if (existsSync(path)) {
  console.error(`${path} is there already; nothing was written.`)
  process.exitCode = 2
} else {
  const started = performance.now()
  const log = { info: () => undefined, warn: () => undefined, error: console.error }
  const store = await openStore({ path, createWorker: createStoreWorker, clock: createClock(), log })
  const seconds = (): string => ((performance.now() - started) / 1000).toFixed(0)
  const stored = await writeArchive(store, onePercent(seed, captures), (done) => {
    if (process.stderr.isTTY) process.stderr.write(`\r${done} of ${captures} captures, ${seconds()} s`)
  })
  await store.close()
  console.log(`${stored} captures in ${path}, ${seconds()} s`)
}
