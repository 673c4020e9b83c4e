/** A thread of the analysis pool: pure computing, no files, no clock. */
import { parentPort } from 'node:worker_threads'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { serveCalls } from '#main/threads/serve.ts'
import { analysisCalls } from './calls.ts'

if (parentPort === null) throw new Error('The analysis runs in a worker thread.')
serveCalls(parentPort, analysisCalls(measureCapture))
