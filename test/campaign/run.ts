/**
 * `npm run campaign`: makes an invented campaign of 4 settings × 6 refresh rates × 42 transitions × 5 repeats and five
 * more displays, has the built program draw findings, report, bundle and comparison from them, verifies the bundle, and
 * holds the findings against an independent program's. Writes assets/campaign.md; files stay in test-results/campaign/.
 */
import { spawnSync } from 'node:child_process'
import { existsSync, mkdirSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { loadavg } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { againstTruth, type FindingsScore } from './against-truth.ts'
import { makeLibrary, TRUE_FIGURES, trueFindings } from './library.ts'
import { LIMIT_SETS, OVERSHOOT_LIMITS, ranksAgainstTruth, SIX_DISPLAYS } from './studied.ts'

const results = fileURLToPath(new URL('../../test-results/campaign/', import.meta.url))
const program = fileURLToPath(new URL('../../out/main/cli.js', import.meta.url))
if (!existsSync(program)) throw new Error('The program is not built: run `npm run build` first.')
rmSync(results, { recursive: true, force: true })
mkdirSync(results, { recursive: true })

const archive = join(results, 'library.sqlite')
const steps: (readonly [what: string, seconds: string])[] = []
const lines: string[] = []
const say = (line: string): void => {
  console.log(line)
  lines.push(line)
}
function timed<T>(what: string, work: () => T): T {
  const started = performance.now()
  const done = work()
  steps.push([what, ((performance.now() - started) / 1000).toFixed(1)])
  return done
}
function slewlight(what: string, args: readonly string[]): string {
  return timed(what, () => {
    const run = spawnSync(process.execPath, [program, ...args], { encoding: 'utf8', maxBuffer: 1 << 28 })
    if (run.status !== 0) throw new Error(`slewlight ${args.join(' ')}: exit ${run.status}\n${run.stderr}`)
    return run.stdout
  })
}
const table = (head: readonly string[], rows: readonly (readonly (string | number)[])[]): void => {
  say(`| ${head.join(' | ')} |`)
  say(`|${head.map(() => '---').join('|')}|`)
  for (const row of rows) say(`| ${row.join(' | ')} |`)
}

const started = performance.now()
const { captures, contents } = await makeLibrary(archive, SIX_DISPLAYS)
steps.push([`simulated, measured and stored: ${captures} captures`, ((performance.now() - started) / 1000).toFixed(1)])

const name = SIX_DISPLAYS[0]?.name ?? ''
const on = ['--archive', archive]
writeFileSync(
  join(results, 'findings.json'),
  slewlight('findings of the campaign of 5,040', ['findings', name, ...on, '--json']),
)
slewlight('report, HTML', ['report', name, ...on, '--out', join(results, 'report.html')])
slewlight('report, PDF', ['report', name, ...on, '--out', join(results, 'report.pdf')])
slewlight('bundle', ['bundle', name, ...on, '--out', join(results, 'bundle')])
const verified = JSON.parse(slewlight('verify', ['verify', join(results, 'bundle'), '--json'])) as {
  captures: number
  numbers: number
  problems: unknown[]
}
slewlight('six displays compared', ['compare-displays', archive, '--limit', 'overshoot_mean<=5', '--at', '120'])

const truths = timed('truth, independent', () => SIX_DISPLAYS.map((display) => trueFindings(display)))
const scores = contents.map(({ sweeps }, i) =>
  againstTruth(
    sweeps.map(({ point }) => point),
    truths[i] as (typeof truths)[number],
  ),
)

say('# Findings against the truth')
say('')
say(
  `Made by \`npm run campaign\`. Six invented displays, two on each of three panels of the simulated rig, ${captures} captures; the first is a campaign of 4 settings × 6 refresh rates × 42 transitions × 5 repeats. What is true comes from the panel model without noise, by bisection (\`test/simulated/truth.ts\`) and numpy (\`test/reference/findings.py\`), which share no code with the program. The simulated rig itself is ours: this shows that noise, sampling, measuring and statistics lead back to what was put in, not that a real display behaves like the model.`,
)
say('')
say('## Does U95 hold the truth')
say('')
const sum = (pick: (score: FindingsScore, figure: string) => number, figures: readonly string[]): number =>
  figures.reduce((n, figure) => n + scores.reduce((m, score) => m + pick(score, figure), 0), 0)
const within = (score: FindingsScore, id: string): number =>
  score.figures.find(({ figure }) => figure === id)?.within ?? 0
const all = (score: FindingsScore, id: string): number => score.figures.find(({ figure }) => figure === id)?.all ?? 0
const percent = (a: number, b: number): string => `${((100 * a) / b).toFixed(1)} %`
const row = (label: string, figures: readonly string[]): (string | number)[] => {
  const [a, b] = [sum(within, figures), sum(all, figures)]
  return [label, a, b, percent(a, b)]
}
const means = TRUE_FIGURES.filter((figure) => figure.endsWith('_mean'))
table(
  ['figure of a sweep', 'within U95', 'sweeps', 'share'],
  [...TRUE_FIGURES.map((figure) => row(figure, [figure])), row('**all means** (asked: ≥ 93 %)', means)],
)
say('')
say('## Usable ranges and answer')
say('')
say('“Wrong” is a verdict that contradicts the truth; “open” one where the limit lies inside U95.')
say('')
const verdicts = SIX_DISPLAYS.flatMap((display, i) =>
  LIMIT_SETS.map(([limitsName, limits]) => {
    const points = contents[i]?.sweeps.map(({ point }) => point) ?? []
    const score = againstTruth(points, trueFindings(display, limits), limits)
    return { display: display.display, limitsName, points, score }
  }),
)
table(
  ['display', 'limits', 'verdicts', 'wrong', 'open', 'same ranges', 'same answer'],
  verdicts.map(({ display, limitsName, points, score }) => [
    display,
    limitsName,
    points.length,
    score.wrong.length,
    score.open.join(', ') || 0,
    score.sameSpans ? 'yes' : 'no',
    score.sameWhole ? 'yes' : 'no',
  ]),
)
say('')
say('## Ranks')
say('')
say(
  'Mean duration of the fastest setting within the overshoot limits. Two displays of one panel are truly alike: a difference between them would be a false claim.',
)
say('')
const underOvershoot = SIX_DISPLAYS.map((display) => trueFindings(display, OVERSHOOT_LIMITS))
const ranks = [60, 120, 165].map((refreshHz) => ({
  refreshHz,
  ...ranksAgainstTruth(SIX_DISPLAYS, contents, underOvershoot, { kind: 'fastest-usable', refreshHz }),
}))
table(
  ['Hz', 'ranks', 'claimed and true', 'claimed and false', 'true and not claimed'],
  ranks.map(({ refreshHz, comparison, right, wrong, missed }) => [
    refreshHz,
    comparison.entries
      .map(({ name: entry }, i) => {
        const { best, worst } = comparison.ranking.ranked[i] ?? { best: 0, worst: 0 }
        return `${entry.replace('Invented display ', '')} ${best === worst ? best : `${best}–${worst}`}`
      })
      .join(', '),
    right,
    wrong.join('; ') || 0,
    missed,
  ]),
)
say('')
say('## Time')
say('')
const mb = (path: string): string => `${(statSync(join(results, path)).size / 1e6).toFixed(1)} MB`
say(
  `Wall-clock seconds, the start of the program included, on two shared cores with a load of ${(loadavg()[0] ?? 0).toFixed(1)}. Report ${mb('report.html')} (HTML), ${mb('report.pdf')} (PDF). Verified: ${verified.captures} traces measured again, ${verified.numbers} numbers compared, ${verified.problems.length} problems.`,
)
say('')
table(['step', 's'], steps)

writeFileSync(new URL('../../assets/campaign.md', import.meta.url), `${lines.join('\n')}\n`)
const bad =
  verdicts.some(({ score }) => score.wrong.length > 0) ||
  verified.problems.length > 0 ||
  ranks.some(({ wrong }) => wrong.length > 0) ||
  sum(within, means) / sum(all, means) < 0.93
process.exitCode = bad ? 1 : 0
