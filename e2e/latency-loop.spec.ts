/**
 * Input latency through the real stimulus page or window: an injected key, the page's own reaction, the pixels of a
 * virtual screen as light, the rig behind a pseudo-terminal. What Slewlight measures must agree with the screen's own
 * time of change, which this file reads by itself. Injected input has no device share, and no screen is scanned.
 */
import { createConnection } from 'node:net'
import { Worker } from 'node:worker_threads'
import { expect, type Page } from 'playwright/test'
import { acknowledge, createCampaign } from './operator.ts'
import { type OpticalBench, opticalTest, slewlight, withOpticalBench } from './virtual-bench.ts'

const EVENTS = 4
const OPTIONS = ['--stimulus', 'page', '--press', 'person', '--events', String(EVENTS), '--refresh', '60']
/** One frame of the virtual screen. */
const FRAME_MS = 1000 / 60

/** Between two looks, ms of the machine's clock: a busy machine may let much time pass between them. */
interface Between {
  readonly after: number
  readonly seen: number
}

interface Screen {
  /** When the middle of the screen became bright. */
  readonly bright: readonly Between[]
  close(): Promise<void>
}

/** Reads one pixel of the screen's file again and again (XWD: header length, size, bytes per line, colours). */
function watchScreen(path: string): Screen {
  const bright: Between[] = []
  const code = `
    const { parentPort, workerData: { path, stop } } = require('node:worker_threads')
    const fs = require('node:fs')
    const file = fs.openSync(path, 'r')
    const head = Buffer.alloc(100)
    fs.readSync(file, head, 0, 100, 0)
    const word = (i) => head.readUInt32BE(4 * i)
    const at = word(0) + 12 * word(19) + Math.floor(word(5) / 2) * word(12) + 4 * Math.floor(word(4) / 2)
    const pixel = Buffer.alloc(4)
    const flag = new Int32Array(stop)
    let lit = false
    let after = 0
    while (Atomics.load(flag, 0) === 0) {
      const before = Number(process.hrtime.bigint()) / 1e6
      fs.readSync(file, pixel, 0, 4, at)
      const level = Math.max(pixel[0], pixel[1], pixel[2])
      if (!lit && level > 127) parentPort.postMessage({ after, seen: Number(process.hrtime.bigint()) / 1e6 })
      lit = level > 127
      after = before
      Atomics.wait(flag, 0, 0, 0.2)
    }
    fs.closeSync(file)`
  const stop = new SharedArrayBuffer(4)
  const worker = new Worker(code, { eval: true, workerData: { path, stop } })
  worker.on('message', (between: Between) => bright.push(between))
  const ended = new Promise<void>((resolve) => worker.once('exit', () => resolve()))
  return {
    bright,
    async close() {
      Atomics.store(new Int32Array(stop), 0, 1)
      await ended
    },
  }
}

/**
 * Presses a key in the page and closes the rig's trigger contact with it, until told to stop. Answers with the instants
 * of the presses.
 */
async function press(page: Page, controlPath: string, enough: () => boolean): Promise<number[]> {
  const socket = createConnection(controlPath)
  await new Promise<void>((resolve, reject) => {
    socket.once('connect', () => resolve())
    socket.once('error', reject)
  })
  socket.resume()
  const at: number[] = []
  while (!enough()) {
    // At no even pace.
    // oxlint-disable no-await-in-loop
    await new Promise((resolve) => setTimeout(resolve, 900 + 37 * ((at.length * 7) % 11)))
    at.push(Number(process.hrtime.bigint()) / 1e6)
    socket.write(`${JSON.stringify({ id: at.length, do: 'external-trigger' })}\n`)
    await page.keyboard.press('a')
    // oxlint-enable no-await-in-loop
  }
  socket.destroy()
  return at
}

/** From each press that lit the screen before the next one to that moment, ms. */
function byScreen(presses: readonly number[], bright: readonly Between[]): Between[] {
  return presses.flatMap((at, i) => {
    const lit = bright.find(({ seen }) => seen > at && seen < (presses[i + 1] ?? Infinity))
    return lit === undefined ? [] : [{ after: lit.after - at, seen: lit.seen - at }]
  })
}

opticalTest('event to light agrees with the screen’s own change within one frame', async ({ hostKind }, testInfo) => {
  // The panel behind the eye has frames of 1 ms and adds next to nothing.
  await withOpticalBench(hostKind, testInfo, ['--refresh', '1000'], async (bench) => {
    const watched = watchScreen(bench.pixels)
    bench.atEnd(() => watched.close())
    const archive = ['--archive', bench.file('latency.sqlite')]
    const taken = await (hostKind === 'browser' ? byCommand(bench, archive) : inWindow(bench, archive))
    const { presses, measured } = taken
    const seen = byScreen(presses, watched.bright)
    process.stdout.write(
      `  by the rig ${measured.map((ms) => ms.toFixed(1)).join(', ')} ms; by the screen ${seen.map((lit) => `${lit.after.toFixed(1)} to ${lit.seen.toFixed(1)}`).join(', ')} ms\n`,
    )
    expect(measured).toHaveLength(EVENTS)
    expect(seen).toHaveLength(EVENTS)
    for (const [i, { after, seen: until }] of seen.entries()) {
      expect(measured[i]).toBeGreaterThan(after - FRAME_MS)
      expect(measured[i]).toBeLessThan(until + FRAME_MS)
    }
  })
})

interface Taken {
  readonly presses: readonly number[]
  /** Event to half of the step, ms. */
  readonly measured: readonly number[]
}

async function byCommand(bench: OpticalBench, archive: readonly string[]): Promise<Taken> {
  const { run, stimulus } = await bench.commandWithPage([
    'latency',
    'Invented',
    ...bench.through,
    ...archive,
    ...OPTIONS,
    '--json',
    '--i-understand-flashing',
  ])
  let ended = false
  const code = run.ended.finally(() => {
    ended = true
  })
  const presses = await press(stimulus, bench.file('control'), () => ended)
  expect(await code, run.output()).toBe(0)
  return { presses, measured: (JSON.parse(run.output()) as { delays_ms: number[] }).delays_ms }
}

async function inWindow(bench: OpticalBench, archive: readonly string[]): Promise<Taken> {
  const { page, stimulus, close } = await bench.desktop([...archive, ...bench.through])
  await createCampaign(page, 'Invented')
  await page.getByRole('link', { name: 'Record', exact: true }).click()
  await page.getByRole('button', { name: 'Measure input latency…' }).click()
  const form = page.getByRole('dialog', { name: 'Measure input latency' })
  await form.getByLabel(/^Events/).fill(String(EVENTS))
  await form.getByText('Pressed by hand', { exact: true }).click()
  await form.getByRole('button', { name: 'Start' }).click()
  await acknowledge(page)
  let ended = false
  const figures = page.getByText(`${EVENTS} of at least 100 events.`).waitFor()
  const done = figures.finally(() => {
    ended = true
  })
  const presses = await press(stimulus, bench.file('control'), () => ended)
  await done
  await close()
  const kept = slewlight(['record', 'readings', 'Invented', ...archive, '--json'])
  expect(await kept.ended).toBe(0)
  const { readings } = JSON.parse(kept.output()) as { readings: { kind: string; series: number[] }[] }
  const series = readings.find(({ kind }) => kind === 'input-latency-run')?.series ?? []
  // Refresh, height, first light, half of the step.
  return { presses, measured: series.filter((_, i) => i % 4 === 3) }
}
