/** The table of planted and found defects, for the terminal and for assets/defects.md. */
import { wilson95 } from '#shared/findings/wilson.ts'
import { chanceOf, SHARES, type Share } from '#shared/measure/flags/budget.ts'
import { KINDS, type DefectKind } from './kinds.ts'
import { OVERSHOOT_POINTS, TIME_SHARE } from './matters.ts'
import { scoresOf, TOLD_FROM, type KindScore, type Tally } from './score.ts'

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
] as const

const POOLED_HEADING = [
  'kind',
  'planted',
  'found',
  'recall',
  '95 %',
  'flagged',
  'false',
  'precision',
  '95 %',
  'strict',
] as const

const ALLOWED_HEADING = [
  'flag',
  'share',
  'allowed on sound captures',
  'counted',
  'precision at the whole share',
] as const
/** Shares of the budget behind the flags of the kinds; a rail is no matter of chance, and repeats have a budget of their own. */
const SHARE_OF: Partial<Record<DefectKind, Share>> = {
  drifted: 'drift',
  'double-step': 'pause',
  'short-dwell': 'tail',
  hum: 'hum',
  'dropped-samples': 'lost',
  'wrong-pair': 'ladder',
}

type Row = readonly string[]

function allowedRowsOf(tally: Tally): Row[] {
  return scoresOf(tally).flatMap(({ kind, planted, alsoTrue, onSound }) => {
    const share = SHARE_OF[kind]
    if (share === undefined) return []
    const allowed = chanceOf(share) * tally.sound
    const precision = (planted + alsoTrue) / (planted + alsoTrue + allowed)
    return [[KINDS[kind].flag, `${100 * SHARES[share]} %`, allowed.toFixed(0), String(onSound), precision.toFixed(2)]]
  })
}

const shown = (value: number | null): string => (value === null ? 'none' : value.toFixed(3))

function rowsOf(scores: readonly KindScore[]): Row[] {
  return scores.map((score) => [
    score.kind,
    KINDS[score.kind].flag,
    String(score.planted),
    String(score.found),
    shown(score.recall),
    String(score.onSound),
    String(score.onOthers),
    String(score.alsoTrue),
    shown(score.precision),
    shown(score.strictPrecision),
  ])
}

/** Several archives together, with Wilson intervals: the planted captures are a sample. */
function pooledRowsOf(scores: readonly KindScore[]): Row[] {
  const interval = (part: number, whole: number): string => {
    if (whole === 0) return 'none'
    const [low, high] = wilson95(part, whole)
    return `${low.toFixed(3)}–${high.toFixed(3)}`
  }
  return scores.map(({ kind, planted, found, recall, onSound, onOthers, alsoTrue, precision, strictPrecision }) => {
    const wrong = onSound + onOthers
    const flagged = found + alsoTrue + wrong
    return [
      kind,
      String(planted),
      String(found),
      shown(recall),
      interval(found, planted),
      String(flagged),
      String(wrong),
      shown(precision),
      interval(flagged - wrong, flagged),
      shown(strictPrecision),
    ]
  })
}

function wordsOf(scores: readonly KindScore[]): string[] {
  return scores.flatMap(({ kind, misses, wrong }) => [
    ...misses.map((text) => `missed ${kind}: ${text}`),
    ...wrong.map((text) => `false ${KINDS[kind].flag}: ${text}`),
  ])
}

function aligned(heading: Row, rows: readonly Row[]): string[] {
  const all = [heading, ...rows]
  const widths = heading.map((_, c) => Math.max(...all.map((row) => (row[c] ?? '').length)))
  return all.map((row) => row.map((cell, c) => cell.padEnd((widths[c] ?? 0) + 2)).join(''))
}

function markdown(heading: Row, rows: readonly Row[]): string {
  return [heading, heading.map(() => '---'), ...rows].map((row) => `| ${row.join(' | ')} |`).join('\n')
}

/** One archive for the terminal. */
export function tableOf(tally: Tally): string[] {
  const scores = scoresOf(tally)
  return [...aligned(HEADING, rowsOf(scores)), '', ...wordsOf(scores), '']
}

/** All archives together for the terminal. */
export function pooledTableOf(tally: Tally): string[] {
  const scores = scoresOf(tally)
  return [...aligned(POOLED_HEADING, pooledRowsOf(scores)), '', ...wordsOf(scores), '']
}

const list = (values: readonly number[]): string =>
  values.length < 2 ? values.join('') : `${values.slice(0, -1).join(', ')} and ${values.at(-1)}`

/**
 * The page of assets/defects.md.
 * @param seeds of the archives; `first` counts the first of them alone, `pooled` all of them
 * @param tuning seeds that the detectors were tuned on, in words
 */
export function pageOf(seeds: readonly number[], tuning: string, first: Tally, pooled: Tally): string {
  const words = wordsOf(scoresOf(pooled)).map((text) => `- ${text}`)
  const also = Object.entries(KINDS).map(([kind, { planted, flag, alsoTrue }]) => {
    const others = Object.entries(alsoTrue).map(([id, why]) => `${id} (${why})`)
    return `- **${kind}** → ${flag}. Planted: ${planted}.${others.length > 0 ? ` Also true: ${others.join('; ')}.` : ''}`
  })
  const together = seeds.length === 1 ? 'With intervals' : `${seeds.length} archives together`
  const onSound = scoresOf(pooled).reduce((sum, one) => sum + one.onSound, 0)
  return `# Planted defects

What the flags find in a simulated archive of ${first.captures.toLocaleString('en')} captures (invented displays), ${first.captures - first.sound} of them with one planted
defect. Made by \`npm run defects\`, seed ${seeds[0]}; other seeds (${tuning}) were used while the detectors were tuned.

${markdown(HEADING, rowsOf(scoresOf(first)))}

*Recall*: found ÷ planted; only the kind's own flag counts. *Precision*: of the captures with the flag, those with a
defect of which it is true (found and also true). *Strict*: the same with the captures of which it is also true left
out. A false flag is one on a sound capture, or on a capture whose defect does not make it true. The budget of false
alarms is 1 % of sound records, all flags together: here ${onSound} flags on ${pooled.sound.toLocaleString('en')} sound captures (${((100 * onSound) / pooled.sound).toFixed(2)} %). Against kinds of which
one capture in a thousand is planted, that alone holds precision down: a detector that found all and used up its share of
the budget would have the precision in the last column.

${markdown(ALLOWED_HEADING, allowedRowsOf(pooled))}

An outlier can be told only from repeats that spread little: by closed form (score.ts) from ${TOLD_FROM} of their standard
deviations on. Through a mean over a ripple period longer than the transition they spread by 4 to 20 % of the duration, and
an outlier of 15 % is planted there all the same. ${pooled.standing.planted} of the ${pooled.kinds.outlier.planted} planted stand out that far; ${pooled.standing.found} of those were found.

## ${together}

Twenty of a kind say little: one missed is 0.05. The same for seed ${list(seeds)} (${pooled.captures.toLocaleString('en')} captures,
${pooled.captures - pooled.sound} with a defect), each made and measured once, with Wilson intervals of 95 %:

${markdown(POOLED_HEADING, pooledRowsOf(scoresOf(pooled)))}

## What was planted

A defect is planted only where it does harm, by amounts that do not depend on what the program states as its own
uncertainty: duration, arrival or settling differ from the same capture without it by more than ${100 * TIME_SHARE} % of the
duration, or overshoot by more than ${OVERSHOOT_POINTS} points (or one of them becomes undefined); for outliers the mean of the cell by
more than ${100 * TIME_SHARE} % of the duration. Lost samples and late frames are faults of the record wherever they lie.

${also.join('\n')}

Sound captures are varied as well: three panels, four overdrive settings, 48–240 Hz, steady, pulse-width modulated
(240 Hz–2 kHz) and strobed backlights, 12–16 bits, 0.5–3 mV of the converter's noise, shot and 1/f noise through the
detector, detectors of 1.5–100 kHz, mains pick-up, drift of light
and offset, and spread of gain and response time from repeat to repeat. Modulated light is measured through the
mean over one of its periods, steady light by all presets.

## Misses and false flags

Of all archives.

${words.length > 0 ? words.join('\n') : 'None.'}
`
}
