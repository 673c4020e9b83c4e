/**
 * Worker threads of the built application. The suffix is electron-vite's: it builds a file of its own for each, and takes a
 * leading `#` for the start of a fragment, hence the relative paths.
 */
import type { Worker } from 'node:worker_threads'
// The linter looks for the default export in the file itself; the build puts it there.
// oxlint-disable-next-line import/default
import createAnalysis from '../analysis/worker.ts?nodeWorker'
// oxlint-disable-next-line import/default
import createStore from '../store/worker.ts?nodeWorker'

export const createAnalysisWorker = (): Worker => createAnalysis({ name: 'analysis' })
export const createStoreWorker = (): Worker => createStore({ name: 'store' })
