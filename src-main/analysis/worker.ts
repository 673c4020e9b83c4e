/** A thread of the analysis pool: pure computing, no files, no clock. */
import { parentPort } from 'node:worker_threads'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { serve } from './serve.ts'

if (parentPort === null) throw new Error('The analysis runs in a worker thread.')
serve(parentPort, measureCapture)
