/** Worker threads of the built application. The suffix is electron-vite's: it builds a file of its own for each. */
import type { Worker } from 'node:worker_threads'
// The linter looks for the default export in the file itself; the build puts it there.
// oxlint-disable-next-line import/default
import createAnalysis from '#main/analysis/worker.ts?nodeWorker'
// oxlint-disable-next-line import/default
import createStore from '#main/store/worker.ts?nodeWorker'

export const createAnalysisWorker = (): Worker => createAnalysis({ name: 'analysis' })
export const createStoreWorker = (): Worker => createStore({ name: 'store' })
