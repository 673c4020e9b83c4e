/** The corpus as a page that people read: counts by class and by measure, then what is not right. */
import { type KindScore, type MeasureScore, SHARE, tallyOf, VERDICTS } from './score.ts'

const LABELS: Readonly<Record<string, string>> = {
  transition_duration_s: 'transition duration',
  arrival_s: 'arrival',
  settling_s: 'settling',
  overshoot_pct: 'overshoot',
  overshoot_code: 'overshoot in codes',
  undershoot_pct: 'undershoot',
  integrated_error_s: 'integrated error',
  first_frame_completion_pct: 'first-frame completion',
  in_window: 'in window',
  blur_edge_s: 'blur edge',
  first_pulse_crosstalk_pct: 'first-pulse crosstalk',
  fundamental_hz: 'fundamental',
  percent_flicker_pct: 'percent flicker',
  flicker_index: 'flicker index',
  svm: 'SVM',
}
export const labelOf = (measure: string): string => LABELS[measure] ?? measure

export const rowOf = (cells: readonly (string | number)[]): string => `| ${cells.join(' | ')} |`

export function tableOf(heading: readonly string[], rows: readonly (readonly (string | number)[])[]): string {
  return [heading, heading.map((_, i) => (i === 0 ? '---' : '---:')), ...rows].map(rowOf).join('\n')
}

function shown(measure: string, value: number | null): string {
  if (value === null) return '–'
  const scaled = measure.endsWith('_s') ? 1000 * value : value
  return Number(scaled.toPrecision(4)).toString()
}

const unitOf = (measure: string): string => {
  if (measure.endsWith('_s')) return ' ms'
  return measure.endsWith('_pct') ? ' %' : ''
}

const groupsOf = (scores: readonly KindScore[]): string[] => [...new Set(scores.map(({ kind }) => kind.group))]

/** Kinds and values by class, with how many of the records of sound kinds carry a flag. */
export function classRows(scores: readonly KindScore[]): (string | number)[][] {
  const line = (name: string, some: readonly KindScore[]): (string | number)[] => {
    const kinds = tallyOf(some.map((score) => score.verdict))
    const values = tallyOf(some.flatMap((score) => score.measures.map((one) => one.verdict)))
    const sound = some.filter(({ kind }) => kind.sound)
    const records = sound.reduce((sum, one) => sum + one.realisations, 0)
    const flagged = sound.reduce((sum, one) => sum + one.flagged, 0)
    return [
      name,
      some.length,
      ...VERDICTS.map((verdict) => kinds[verdict]),
      VERDICTS.map((verdict) => values[verdict]).join(' / '),
      records === 0 ? '' : `${flagged} of ${records}`,
    ]
  }
  return [
    ...groupsOf(scores).map((group) =>
      line(
        group,
        scores.filter(({ kind }) => kind.group === group),
      ),
    ),
    line('**all**', scores),
  ]
}

export const CLASS_HEADING = [
  'class',
  'kinds',
  'right',
  'wrong, flagged',
  'wrong, silent',
  'undefined',
  'values: right / flagged / silent / undefined',
  'sound records with a flag',
]

export function measureRows(scores: readonly KindScore[]): (string | number)[][] {
  const all = scores.flatMap((score) => score.measures)
  return [...new Set(all.map((one) => one.measure))].map((measure) => {
    const tally = tallyOf(all.filter((one) => one.measure === measure).map((one) => one.verdict))
    return [labelOf(measure), ...VERDICTS.map((verdict) => tally[verdict])]
  })
}

function wrongText(one: MeasureScore): string {
  const value = `${shown(one.measure, one.medianValue)} ± ${shown(one.measure, one.medianU)}`
  return `${labelOf(one.measure)} ${value}${unitOf(one.measure)} (${shown(one.measure, one.truth)}; ${one.right} right)`
}

/** Kinds that are not right, with the measures that make them so. */
export function wrongRows(scores: readonly KindScore[]): (string | number)[][] {
  return scores
    .filter((score) => score.verdict !== 'right')
    .map((score) => [
      `${score.kind.group}: ${score.kind.name}`,
      score.verdict,
      score.measures
        .filter((one) => one.verdict !== 'right')
        .map((one) => (one.verdict === score.verdict ? wrongText(one) : `${wrongText(one)}, ${one.verdict}`))
        .join('; '),
      Object.entries(score.flags)
        .map(([flag, count]) => `${flag} ${count}`)
        .join(', '),
    ])
}

export function pageOf(scores: readonly KindScore[], seed: number, algorithm: string): string {
  const realisations = scores[0]?.realisations ?? 0
  return `# Corpus: what the numbers are worth on a real bench

${scores.length} kinds of record, ${realisations} realisations each (seed ${seed}, algorithm ${algorithm}), made by an independent
program (\`test/reference/corpus\`, numpy and scipy, no code of Slewlight). Truths come from closed forms, or from root finding
and quadrature on the continuous waveform without noise. Records are measured as a user would: default recipe, refresh
rate, scale and range of the converter given; what else is given stands in the kind's name. Made by \`npm run corpus\`.

**Rule.** A value is right when it lies within twice its own stated standard uncertainty of the truth (plus one part in
10,000: less than any digit shown). A measure of a kind is *right* when ${100 * SHARE} % of the realisations are. Otherwise it is
*undefined* when more realisations have no value than a wrong one, *flagged* when ${100 * SHARE} % of the wrong ones carry a
flag, and *silent* when not. A kind is as bad as its worst measure: silent, flagged, undefined, right. "In window: undecided"
is right where the true settling lies within four stated standard uncertainties of the limit, and undefined elsewhere. A time that ends
after the record does may be left undefined. Without a stated detector the truth is the light as the detector passes it.

${tableOf(CLASS_HEADING, classRows(scores))}

By measure:

${tableOf(['measure', ...VERDICTS], measureRows(scores))}

What is not right: median value ± median standard uncertainty (truth; realisations that are right).

${tableOf(['kind', 'verdict', 'measures', 'flags raised'], wrongRows(scores))}
`
}
