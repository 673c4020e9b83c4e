/** Worker threads as the tests start them: Node runs the TypeScript sources. The program itself uses built chunks. */
import { Worker } from 'node:worker_threads'

const QUIET = { execArgv: ['--disable-warning=MODULE_TYPELESS_PACKAGE_JSON'] }

export function createStoreWorker(): Worker {
  return new Worker(new URL('../../src-main/store/worker.ts', import.meta.url), QUIET)
}

export function createAnalysisWorker(): Worker {
  return new Worker(new URL('../../src-main/analysis/worker.ts', import.meta.url), QUIET)
}
