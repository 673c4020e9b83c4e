/** `npm run fuzz-tables [texts] [seed]`: damaged and random tables against the readers of CGATS and delimited text. */
import { fuzzTables } from './tables.ts'

const [texts = '100000', seed = '1'] = process.argv.slice(2)
const startedAt = performance.now()
const { accepted, refused } = fuzzTables(Number(texts), Number(seed))
process.stdout.write(
  `${texts} texts, seed ${seed}: ${accepted} accepted, ${refused} refused, ${((performance.now() - startedAt) / 1000).toFixed(0)} s\n`,
)
