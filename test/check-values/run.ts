/** `npm run check-values`: measures every check value, prints the table and writes assets/check-values.md. */
import { writeFileSync } from 'node:fs'
import { ALL_ROWS } from './all-rows.ts'
import { check, type CheckedRow } from './row.ts'

function format(value: number | null): string {
  if (value === null) return 'undefined'
  return String(Number(value.toPrecision(8)))
}

function allowed(row: CheckedRow): string {
  if (row.kind === 'relative') return `±${Number((100 * row.tolerance).toPrecision(3))} %`
  return row.kind === 'at most' ? 'at most' : `±${row.tolerance}`
}

const rows = ALL_ROWS.map(check)
const failed = rows.filter((row) => !row.pass)
const cells = rows.map((row) => [
  row.id,
  row.quantity,
  format(row.expected),
  format(row.got),
  row.unit,
  allowed(row),
  `${row.source} (${row.provenance})`,
  row.pass ? 'pass' : 'MISS',
])
const heading = ['row', 'quantity', 'expected', 'got', 'unit', 'tolerance', 'source', 'verdict']
for (const line of [heading, ...cells])
  console.log(
    `${(line[7] ?? '').padEnd(8)}${(line[0] ?? '').padEnd(14)}${(line[1] ?? '').padEnd(86)}${(line[2] ?? '').padStart(14)}${(line[3] ?? '').padStart(14)} ${(line[4] ?? '').padEnd(6)} ${line[5] ?? ''}`,
  )
const table = [heading, heading.map(() => '---'), ...cells].map((line) => `| ${line.join(' | ')} |`)
const text = `# Check values

Published and computed numbers that the measuring must reproduce, and what it gives. Made by \`npm run check-values\`;
the unit tests assert every row. Provenance: *read* in the named source, quoted *from memory*, or *computed* from a
closed form. ${rows.length} rows, ${rows.length - failed.length} within tolerance.

${table.join('\n')}
`
writeFileSync(new URL('../../assets/check-values.md', import.meta.url), text)
console.log(`${rows.length - failed.length} of ${rows.length} rows within tolerance; written to assets/check-values.md`)
if (failed.length > 0) process.exitCode = 1
