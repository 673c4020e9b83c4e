import type { z } from 'zod'

/** What is wrong in a file of ours, each with the key it stands at: `sweep.repeats: …`. A rule for all of it stands alone. */
export const fileProblems = (error: z.ZodError): string =>
  error.issues
    .map(({ path, message }) => (path.length === 0 ? message : `${path.map(String).join('.')}: ${message}`))
    .map((problem) => (problem.endsWith('.') ? problem : `${problem}.`))
    .join(' ')
