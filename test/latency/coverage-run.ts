/** `npm run latency`: 200 campaigns of 1,000 events at each rate; writes assets/latency.md. */
import { writeFileSync } from 'node:fs'
import { coverage, DISPLAY, REFERENCE } from './coverage.ts'

const RATES = [60, 144, 240]
const CAMPAIGNS = 200
const EVENTS = 1000

const { rows, unclear } = coverage(RATES, CAMPAIGNS, EVENTS, 1)
const within = rows.filter(({ held }) => held >= 0.93 * CAMPAIGNS && held <= 0.97 * CAMPAIGNS).length
const quantities = [...new Set(rows.map(({ quantity }) => quantity))]
const total = (quantity: string): string => {
  const own = rows.filter((row) => row.quantity === quantity)
  return ((100 * own.reduce((sum, { held }) => sum + held, 0)) / (own.length * CAMPAIGNS)).toFixed(1)
}
const text = [
  '# Latency: how often the stated intervals hold the truth',
  '',
  `Made by \`npm run latency\`: ${CAMPAIGNS} invented campaigns at each refresh rate, each with ${EVENTS} events on a display and ${EVENTS} on a reference. Every event is a record of its own in closed form (\`test/latency/closed-form.ts\`, which shares nothing with the program): host ${DISPLAY.hostMs} ms, a poll of ${DISPLAY.pollMs} ms, the wait for a frame, a signal delay of ${DISPLAY.signalDelayMs} ms and an exponential response of ${DISPLAY.tauMs} ms (reference: ${REFERENCE.signalDelayMs} and ${REFERENCE.tauMs} ms), sampled at 10 kHz with 4 mV of noise on 4 V. The truth is the mean and the quantiles of the sum of two even waits.`,
  '',
  `| interval of 95 % holds the truth, % of campaigns | ${RATES.map((hz) => `${hz} Hz`).join(' | ')} | all |`,
  `|---|${RATES.map(() => '---|').join('')}---|`,
  ...quantities.map(
    (quantity) =>
      `| ${quantity} | ${RATES.map((hz) => {
        const row = rows.find((one) => one.refreshHz === hz && one.quantity === quantity)
        return ((100 * (row?.held ?? 0)) / CAMPAIGNS).toFixed(1)
      }).join(' | ')} | ${total(quantity)} |`,
  ),
  '',
  `${within} of ${rows.length} lie within 93 to 97 %. With ${CAMPAIGNS} campaigns an interval of exactly 95 % lies there in 86 of 100 cases (binomial law), and intervals of percentiles by order of the events hold a little more than 95 %, since ranks are whole numbers. ${unclear} of ${2 * RATES.length * CAMPAIGNS * EVENTS} events had no clear light.`,
  '',
].join('\n')
writeFileSync('assets/latency.md', text)
process.stdout.write(text)
