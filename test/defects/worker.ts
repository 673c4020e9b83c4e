/** Counts every n-th sweep of an archive in a thread of its own. */
import { parentPort, workerData } from 'node:worker_threads'
import { tallyOf } from './score.ts'

export interface Share {
  readonly plan: { readonly seed: number; readonly captures: number; readonly perKind: number }
  readonly part: number
  readonly parts: number
}

const { plan, part, parts } = workerData as Share
if (parentPort === null) throw new Error('Counting runs in a worker thread.')
const port = parentPort
const none: [] = []
port.postMessage({ tally: tallyOf(plan, part, parts, () => port.postMessage({ sweep: true }, none)) }, none)
