/** Measures traces held in memory as fast as one thread can, as often as asked; answers with the seconds it took. */
import { parentPort, workerData } from 'node:worker_threads'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'

const { inputs } = workerData as { inputs: MeasureInput[] }
const run = (count: number): void => {
  for (let i = 0; i < count; i++) measureCapture(inputs[i % inputs.length] as MeasureInput)
}
run(100)
parentPort?.on('message', (count: number) => {
  const start = performance.now()
  run(count)
  const answer = { seconds: (performance.now() - start) / 1000 }
  parentPort?.postMessage(answer, [])
})
