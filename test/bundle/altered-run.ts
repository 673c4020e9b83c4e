/**
 * `npm run altered`: a hundred bundles with one altered byte of a trace, of the recipe or of a published value, hashes
 * written anew; counts those whose number is named. Writes assets/altered.md. A minute.
 */
import { writeFileSync } from 'node:fs'
import { alterAndVerify, isNamed } from './altered.ts'

const SEED = 20_310_405
const { altered, sound } = await alterAndVerify(100, SEED)
const files = [...new Set(altered.map(({ file }) => file))]
const rows = files.map((file) => {
  const own = altered.filter((one) => one.file === file)
  return `| ${file} | ${own.length} | ${own.filter(({ problems }) => problems.length > 0).length} | ${own.filter(isNamed).length} |`
})
const missed = altered.filter((one) => !isNamed(one))
for (const { file, what, problems } of missed) console.log(`not named: ${file}, ${what}`, problems.slice(0, 3))
console.log(`${altered.length - missed.length} of ${altered.length} named; ${sound} problems in the sound bundle.`)
writeFileSync(
  new URL('../../assets/altered.md', import.meta.url),
  `# Bundles with one altered byte

Made by \`npm run altered\`, seed ${SEED}. An invented bundle of twelve captures; in each copy one byte is altered of a sample, of a number or word of the recipe, or of a published value (table of results as CSV or Parquet, findings, text of the report, numbers of a figure), and all hashes of manifest and metadata are written anew, so that only the content gives it away. The sound bundle has ${sound} problems.

| altered | bundles | refused | the number named |
|---|---|---|---|
${rows.join('\n')}

What is no value, such as an unused byte of a Parquet file, shows in the hashes of the manifest alone. Whoever alters a trace and every number that follows from it, all through the bundle, has made another bundle: nothing but a signature could tell, and there is none.
`,
)
process.exitCode = missed.length > 0 || sound > 0 ? 1 : 0
