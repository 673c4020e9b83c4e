/** Raw records of input latency in a bundle: measured again, and every alteration named. */
import { cpSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { LATENCY_EVENTS, LATENCY_RUNS } from '#main/publish/bundle/latency.ts'
import { verifyFolder } from '#main/publish/bundle/verify.ts'
import { writeBundle } from '#main/publish/bundle/write.ts'
import type { BundleExtra } from '#shared/domain/bundle.ts'
import type { LatencyEvent, LatencyRun } from '#shared/domain/latency.ts'
import { coverUp, measure } from './altered.ts'
import { inventedCaptures, inventedEvidence, inventedLatency, streamed, SUBJECT } from './invented.ts'

const home = mkdtempSync(join(tmpdir(), 'slewlight-latency-'))
const sound = join(home, 'sound')
let evidence: readonly BundleExtra[]
let runs: readonly LatencyRun[]
let events: readonly LatencyEvent[]

async function* each(all: readonly LatencyEvent[]): AsyncGenerator<LatencyEvent> {
  yield* all
}
const write = (folder: string, all: readonly LatencyEvent[]): Promise<void> =>
  writeBundle(folder, { ...SUBJECT, latency: { runs, events: each(all) } }, streamed(inventedCaptures()), evidence)

/** One sample of one event changed by a few codes from its place on. */
const altered = (position: number, from: number, codes: number): readonly LatencyEvent[] =>
  events.map((event) => {
    if (event.runId !== 1 || event.position !== position || event.trace.format !== 'int16') return event
    const samples = event.trace.samples.map((code, i) => (i === from ? code + codes : code))
    return { ...event, trace: { ...event.trace, samples } }
  })

beforeAll(async () => {
  const made = await inventedLatency()
  ;({ runs, events } = made)
  evidence = await inventedEvidence(inventedCaptures(), { more: made.readings })
  await write(sound, events)
})
afterAll(() => rmSync(home, { recursive: true, force: true }))

describe('latency in a bundle', () => {
  it('is measured again and agrees', async () => {
    const { problems, numbers } = await verifyFolder(sound, { measure })
    expect(problems).toEqual([])
    expect(numbers).toBeGreaterThan(2 * 20 * 4)
  })

  it('names the event whose record was altered by one code, though every hash list was made anew', async () => {
    const other = join(home, 'other')
    await write(other, altered(17, 1200, 1))
    const folder = join(home, 'one-code')
    cpSync(sound, folder, { recursive: true })
    cpSync(join(other, LATENCY_EVENTS), join(folder, LATENCY_EVENTS))
    await coverUp(folder, evidence)
    expect((await verifyFolder(folder, { measure })).problems).toEqual([
      { file: LATENCY_EVENTS, place: 'run 1, event 17', problem: 'Its record is not the one that was published.' },
    ])
  })

  it('names the number that does not follow from the records, where their hashes were made anew as well', async () => {
    const other = join(home, 'later')
    // Light that begins 5 ms later in one event.
    await write(
      other,
      events.map((event) =>
        event.runId === 1 && event.position === 3 ? { ...event, triggerIndex: event.triggerIndex - 100 } : event,
      ),
    )
    const folder = join(home, 'hashes-too')
    cpSync(sound, folder, { recursive: true })
    for (const path of [LATENCY_EVENTS, LATENCY_RUNS]) cpSync(join(other, path), join(folder, path))
    await coverUp(folder, evidence)
    const { problems } = await verifyFolder(folder, { measure })
    // Third row: first light, and half of the step; with them the uncertainty of all.
    expect(problems.map(({ file, place }) => [file, place])).toEqual([
      ['data/archive.json', 'reading 1, series[10]'],
      ['data/archive.json', 'reading 1, series[11]'],
      ['data/archive.json', 'reading 1, u'],
    ])
  })

  it('names an event that is missing', async () => {
    const other = join(home, 'fewer')
    await write(
      other,
      events.filter(({ runId, position }) => !(runId === 2 && position === 5)),
    )
    const folder = join(home, 'missing')
    cpSync(sound, folder, { recursive: true })
    cpSync(join(other, LATENCY_EVENTS), join(folder, LATENCY_EVENTS))
    await coverUp(folder, evidence)
    const { problems } = await verifyFolder(folder, { measure })
    expect(problems[0]).toEqual({ file: LATENCY_EVENTS, place: 'run 2, event 5', problem: 'Its record is missing.' })
  })
})
