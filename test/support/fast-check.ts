/** fast-check that draws the same cases at every run; see seed.ts. */
import fc from 'fast-check'
import { SEED } from './seed.ts'

fc.configureGlobal({ seed: SEED })

export { fc }
