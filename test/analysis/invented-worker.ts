/** An analysis thread with an invented measurement, steered by the first sample: what the pool does is under test here. */
import { parentPort } from 'node:worker_threads'
import { analysisCalls } from '../../src-main/analysis/calls.ts'
import { serveCalls } from '../../src-main/threads/serve.ts'
import { AppError } from '../../src-shared/domain/errors.ts'
import { testResult } from '../store/fixtures.ts'
import { recipeHash } from '../../src-shared/domain/recipe.ts'

export const DIE = 30_001
export const HANG = 30_002
export const REFUSE = 30_003

if (parentPort !== null)
  serveCalls(
    parentPort,
    analysisCalls((input) => {
      const [first] = input.trace.samples
      if (first === DIE) process.exit(7)
      if (first === HANG) for (;;);
      if (first === REFUSE) throw new AppError('invalid-input', 'Nothing to measure in it.')
      let sum = 0
      for (const sample of input.trace.samples) sum += sample
      const mean = sum / input.trace.samples.length
      return testResult({ snr: mean, step_v: input.override?.crossLowS ?? null }, [], recipeHash(input.recipe))
    }),
  )
