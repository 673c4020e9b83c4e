/** Measures traces held in memory as fast as one thread can; answers with the seconds it took. */
import { parentPort, workerData } from 'node:worker_threads'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'

const { inputs, count } = workerData as { inputs: MeasureInput[]; count: number }
for (let i = 0; i < 100; i++) measureCapture(inputs[i % inputs.length] as MeasureInput)
const start = performance.now()
for (let i = 0; i < count; i++) measureCapture(inputs[i % inputs.length] as MeasureInput)
const seconds = (performance.now() - start) / 1000
parentPort?.postMessage(seconds)
