/** Worker threads as tests and scripts start them. The program itself uses built chunks. */
import { Worker } from 'node:worker_threads'

export const BUILT_WORKERS = new URL('../../test-results/workers/', import.meta.url)

/** Sources of the worker threads, by the names of their built files. */
export const WORKER_SOURCES = {
  store: new URL('../../src-main/store/worker.ts', import.meta.url),
  analysis: new URL('../../src-main/analysis/worker.ts', import.meta.url),
  invented: new URL('../analysis/invented-worker.ts', import.meta.url),
}

/** Scripts let Node run the sources; the test runner built them before (see build-workers.ts). */
function start(name: keyof typeof WORKER_SOURCES): Worker {
  if (process.env['VITEST'] === undefined)
    return new Worker(WORKER_SOURCES[name], { execArgv: ['--disable-warning=MODULE_TYPELESS_PACKAGE_JSON'] })
  return new Worker(new URL(`${name}.js`, BUILT_WORKERS))
}

export const createStoreWorker = (): Worker => start('store')
export const createAnalysisWorker = (): Worker => start('analysis')
/** An analysis thread with an invented measurement. */
export const createInventedWorker = (): Worker => start('invented')
