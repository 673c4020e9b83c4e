/** `npm run latency`: invented campaigns of known delay at each rate; writes assets/latency.md. */
import { writeFileSync } from 'node:fs'
import { coverage, DISPLAY, drawnEvents, REFERENCE, shapeAlarms, type CoverageRow } from './coverage.ts'

const RATES = [60, 144, 240]
const EVENTS = 1000
const MANY = 4000
const FEW = 200

const share = (held: number, campaigns: number): string => ((100 * held) / campaigns).toFixed(1)
const inBounds = ({ held, campaigns }: CoverageRow): boolean => held >= 0.93 * campaigns && held <= 0.97 * campaigns

function table(rows: readonly CoverageRow[]): string[] {
  const quantities = [...new Set(rows.map(({ quantity }) => quantity))]
  return [
    `| interval of 95 % holds the truth, % of campaigns | ${RATES.map((hz) => `${hz} Hz`).join(' | ')} |`,
    `|---|${RATES.map(() => '---|').join('')}`,
    ...quantities.map(
      (quantity) =>
        `| ${quantity} | ${RATES.map((hz) => {
          const row = rows.find((one) => one.refreshHz === hz && one.quantity === quantity)
          return row === undefined ? '–' : share(row.held, row.campaigns)
        }).join(' | ')} |`,
    ),
  ]
}

const many = coverage(RATES, MANY, EVENTS, 1, drawnEvents)
const hundred = coverage(RATES, MANY, 100, 2, drawnEvents)
const few = coverage(RATES, FEW, EVENTS, 1)
const alarms = [100, EVENTS].map((events) =>
  RATES.map((hz) => `${share(shapeAlarms(0, hz, MANY, events, events), MANY)} %`),
)
const polled = RATES.map((hz) => `${share(shapeAlarms(1, hz, FEW, EVENTS, 5), FEW)} %`)
const text = [
  '# Latency: how often the stated intervals hold the truth',
  '',
  `Made by \`npm run latency\`. Invented campaigns, each with ${EVENTS} events on a display and as many on a reference: host ${DISPLAY.hostMs} ms, a poll of ${DISPLAY.pollMs} ms, the wait for a frame, a signal delay of ${DISPLAY.signalDelayMs} ms and an exponential response of ${DISPLAY.tauMs} ms (reference: ${REFERENCE.signalDelayMs} and ${REFERENCE.tauMs} ms). The truth is the mean and the quantiles of the sum of two even waits, in closed form (\`test/latency/closed-form.ts\`, which shares nothing with the program).`,
  '',
  `## ${MANY} campaigns of ${EVENTS} events`,
  '',
  `The delays as the rig reads them, with the event’s edge anywhere within a sample of 0.1 ms. A share of ${MANY} has a standard error of 0.34 %, so that 93 to 97 % is a test: an interval of exactly 95 % lies there with a chance of 1 − 2·10⁻⁸, one of 92 % with a chance of 1 %.`,
  '',
  ...table(many.rows),
  '',
  `${many.rows.filter(inBounds).length} of ${many.rows.length} lie within 93 to 97 %.`,
  '',
  `## ${MANY} campaigns of 100 events`,
  '',
  ...table(hundred.rows),
  '',
  `${hundred.rows.filter(inBounds).length} of ${hundred.rows.length} lie within 93 to 97 %. For 99 % of events 100 are too few for an upper end; the lower end is then a bound of 95 % by itself.`,
  '',
  `## ${FEW} campaigns of ${EVENTS} events, every event a record`,
  '',
  'Each event is a record of its own, sampled at 10 kHz with 4 mV of noise on 4 V, and measured as the program does.',
  '',
  ...table(few.rows),
  '',
  `${few.rows.filter(inBounds).length} of ${few.rows.length} lie within 93 to 97 %. With ${FEW} campaigns an interval of exactly 95 % lies there in 86 of 100 cases (binomial law): 20 or 21 of 24 are to be expected. ${few.unclear} of ${2 * RATES.length * FEW * EVENTS} events had no clear light.`,
  '',
  '## Spread against the wait for one frame',
  '',
  `Where that wait is all there is, ${MANY} runs of 100 and of ${EVENTS} events are wrongly said to be something else in these shares, with 5 % intended:`,
  '',
  `| events | ${RATES.map((hz) => `${hz} Hz`).join(' | ')} |`,
  `|---|${RATES.map(() => '---|').join('')}`,
  ...alarms.map((row, i) => `| ${[100, EVENTS][i] ?? ''} | ${row.join(' | ')} |`),
  '',
  `With a poll of 1 ms beside it, ${EVENTS} events tell it in ${polled.join(', ')} of ${FEW} runs at ${RATES.join(', ')} Hz.`,
  '',
].join('\n')
writeFileSync('assets/latency.md', text)
process.stdout.write(text)
