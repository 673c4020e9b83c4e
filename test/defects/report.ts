/** The table of planted and found defects, for the terminal and for assets/defects.md. */
import type { ArchivePlan } from './archive.ts'
import { KINDS } from './kinds.ts'
import type { KindScore, Tally } from './score.ts'

/** What recall and precision of every kind are to reach. */
export const BOUND = 0.95

const HEADING = [
  'kind',
  'flag',
  'planted',
  'found',
  'recall',
  'false, sound',
  'false, other defects',
  'also true',
  'precision',
  'strict',
]

function cellsOf(score: KindScore): string[] {
  const share = (value: number | null): string => (value === null ? 'none' : value.toFixed(3))
  return [
    score.kind,
    KINDS[score.kind].flag,
    String(score.planted),
    String(score.found),
    share(score.recall),
    String(score.onSound),
    String(score.onOthers),
    String(score.alsoTrue),
    share(score.precision),
    share(score.strictPrecision),
  ]
}

export function tableOf(scores: readonly KindScore[]): string[] {
  const rows = [HEADING, ...scores.map(cellsOf)]
  const widths = HEADING.map((_, c) => Math.max(...rows.map((row) => (row[c] ?? '').length)))
  const lines = rows.map((row) => row.map((cell, c) => cell.padEnd((widths[c] ?? 0) + 2)).join(''))
  const words = scores.flatMap(({ kind, misses, wrong }) => [
    ...misses.map((text) => `missed ${kind}: ${text}`),
    ...wrong.map((text) => `false ${KINDS[kind].flag}: ${text}`),
  ])
  return [...lines, '', ...words, '']
}

export function pageOf(plan: ArchivePlan, tally: Tally, scores: readonly KindScore[]): string {
  const table = [HEADING, HEADING.map(() => '---'), ...scores.map(cellsOf)].map((row) => `| ${row.join(' | ')} |`)
  const lines = scores.flatMap(({ kind, misses, wrong }) => [
    ...misses.map((text) => `- missed ${kind}: ${text}`),
    ...wrong.map((text) => `- false ${KINDS[kind].flag}: ${text}`),
  ])
  const also = Object.entries(KINDS).map(([kind, { planted, flag, alsoTrue }]) => {
    const others = Object.entries(alsoTrue).map(([id, why]) => `${id} (${why})`)
    return `- **${kind}** → ${flag}. Planted: ${planted}.${others.length > 0 ? ` Also true: ${others.join('; ')}.` : ''}`
  })
  return `# Planted defects

What the flags find in a simulated archive of ${tally.captures.toLocaleString('en')} captures (invented displays), ${tally.captures - tally.sound} of them with one planted
defect. Made by \`npm run defects\`, seed ${plan.seed}; other seeds (1 to 99, 7001 to 7003, 20260 to 20264) were used while the detectors were tuned.

${table.join('\n')}

*Recall*: found ÷ planted; only the kind's own flag counts. *Precision*: of the captures with the flag, those with a
defect of which it is true (found and also true). *Strict*: the same with the captures of which it is also true left
out. A false flag is one on a sound capture, or on a capture whose defect does not make it true.

## What was planted

A defect is planted only where it does harm: duration, arrival, settling or overshoot differ from the same capture
without it by more than twice their stated standard uncertainty (or become undefined), for outliers the mean of the cell
by more than its stated U95. Lost samples and late frames are faults of the record wherever they lie.

${also.join('\n')}

Sound captures are varied as well: three panels, four overdrive settings, 48–240 Hz, steady, pulse-width modulated
(240 Hz–2 kHz) and strobed backlights, 12–16 bits, 0.5–3 mV of noise, detectors of 1.5–100 kHz, mains pick-up, drift of
light and offset, and spread of gain and response time from repeat to repeat. Modulated light is measured through the
mean over one of its periods, steady light by all presets.

## Misses and false flags

${lines.length > 0 ? lines.join('\n') : 'None.'}
`
}
