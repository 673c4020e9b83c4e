/**
 * Input latency through the real stimulus page or window: an injected key, the page's own reaction, the pixels of a
 * virtual screen as light, the rig behind a pseudo-terminal. What Slewlight measures must agree with the screen's own
 * time of change, which this file reads by itself. Injected input has no device share, and no screen is scanned.
 */
import { mkdtempSync, rmSync } from 'node:fs'
import { createConnection } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { Worker } from 'node:worker_threads'
import { _electron, expect, test, type Page } from 'playwright/test'
import type { HostOptions } from './fixtures.ts'
import { acknowledge, createCampaign, setUp } from './operator.ts'
import { electronPath, ROOT } from './processes.ts'
import { HEIGHT, kioskBrowser, missing, skipLacking, slewlight, virtualScreen, WIDTH } from './virtual-bench.ts'

const EVENTS = 4
/** One frame of the virtual screen. */
const FRAME_MS = 1000 / 60

interface Screen {
  /** Instants at which the middle of the screen became bright, ms of the machine's clock. */
  readonly bright: readonly number[]
  close(): Promise<void>
}

/** Reads one pixel of the screen's file again and again (XWD: header length, size, bytes per line, colours). */
function watchScreen(path: string): Screen {
  const bright: number[] = []
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
    while (Atomics.load(flag, 0) === 0) {
      fs.readSync(file, pixel, 0, 4, at)
      const now = Number(process.hrtime.bigint()) / 1e6
      const level = Math.max(pixel[0], pixel[1], pixel[2])
      if (!lit && level > 127) parentPort.postMessage(now)
      lit = level > 127
      Atomics.wait(flag, 0, 0, 0.2)
    }
    fs.closeSync(file)`
  const stop = new SharedArrayBuffer(4)
  const worker = new Worker(code, { eval: true, workerData: { path, stop } })
  worker.on('message', (at: number) => bright.push(at))
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
  const until = Date.now() + 60_000
  while (!enough() && Date.now() < until) {
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

/** From each press that lit the screen within half a second to that moment, ms. */
function byScreen(presses: readonly number[], bright: readonly number[]): number[] {
  return presses.flatMap((at) => {
    const lit = bright.find((one) => one > at && one < at + 500)
    return lit === undefined ? [] : [lit - at]
  })
}

const at = test.extend<object, HostOptions>({ hostKind: ['browser', { option: true, scope: 'worker' }] })

at('event to light agrees with the screen’s own change within one frame', async ({ hostKind }, testInfo) => {
  at.setTimeout(120_000)
  skipLacking(missing(hostKind), testInfo)
  const folder = mkdtempSync(join(tmpdir(), 'slewlight-latency-'))
  const file = (name: string): string => join(folder, name)
  const ends: (() => Promise<void>)[] = [async () => rmSync(folder, { recursive: true, force: true })]
  try {
    const { display, screen } = await virtualScreen(file('fb'))
    ends.unshift(() => screen.stop())
    const pixels = `${file('fb')}/Xvfb_screen0`
    // The panel behind the eye has frames of 1 ms and adds next to nothing.
    const rig = slewlight([
      'rig-sim',
      '--pty',
      file('rig'),
      '--control',
      file('control'),
      '--eye',
      `xvfb:${pixels},${WIDTH / 2 - 1},${HEIGHT / 2 - 1},2`,
      '--refresh',
      '1000',
    ])
    ends.unshift(() => rig.stop())
    await rig.said(/Simulated rig/)
    const watched = watchScreen(pixels)
    ends.unshift(() => watched.close())
    const through = ['--rig', file('rig'), '--baud', '4000000']
    const archive = ['--archive', file('latency.sqlite')]
    let presses: number[]
    let measured: number[]
    if (hostKind === 'browser') {
      const run = slewlight([
        'latency',
        'Invented',
        ...through,
        ...archive,
        '--stimulus',
        'page',
        '--press',
        'person',
        '--events',
        String(EVENTS),
        '--refresh',
        '60',
        '--json',
        '--i-understand-flashing',
      ])
      ends.unshift(() => run.stop())
      const address = await run.said(/http:\/\/127\.0\.0\.1:\d+\/stimulus[^\s"]*/)
      const context = await kioskBrowser(file('profile'), display)
      ends.unshift(() => context.close())
      const page = context.pages()[0] ?? (await context.newPage())
      await page.goto(address)
      await page.getByRole('button', { name: 'Start full screen' }).click()
      let ended = false
      const code = run.ended.finally(() => {
        ended = true
      })
      presses = await press(page, file('control'), () => ended)
      expect(await code, run.output()).toBe(0)
      measured = (JSON.parse(run.output()) as { delays_ms: number[] }).delays_ms
    } else {
      const electronBinary = electronPath()
      const { ELECTRON_RUN_AS_NODE: _asNode, ...env } = process.env
      const electron = await _electron.launch({
        timeout: 90_000,
        executablePath: 'path' in electronBinary ? electronBinary.path : '',
        args: ['--no-sandbox', '--disable-gpu', `--user-data-dir=${file('profile')}`, ROOT, ...archive, ...through],
        env: { ...(env as Record<string, string>), DISPLAY: display },
      })
      ends.unshift(() => electron.close())
      const page = await electron.firstWindow({ timeout: 90_000 })
      await page.waitForLoadState('domcontentloaded')
      await setUp(page)
      await page.getByRole('radio', { name: 'A real screen' }).click()
      const opened = electron.waitForEvent('window')
      await page.getByRole('button', { name: /^Open (window|again)$/ }).click()
      const stimulus = await opened
      await page.keyboard.press('Escape')
      await createCampaign(page, 'Invented')
      await page.getByRole('link', { name: 'Record', exact: true }).click()
      await page.getByRole('button', { name: 'Measure input latency…' }).click()
      const form = page.getByRole('dialog', { name: 'Measure input latency' })
      await form.getByLabel(/^Events/).fill(String(EVENTS))
      await form.getByText('Pressed by hand', { exact: true }).click()
      await form.getByRole('button', { name: 'Start' }).click()
      await acknowledge(page)
      let ended = false
      const figures = page.getByText(`${EVENTS} of at least 100 events.`).waitFor({ timeout: 60_000 })
      const done = figures.finally(() => {
        ended = true
      })
      presses = await press(stimulus, file('control'), () => ended)
      await done
      await electron.close()
      ends.shift()
      const kept = slewlight(['record', 'readings', 'Invented', ...archive, '--json'])
      expect(await kept.ended).toBe(0)
      const { readings } = JSON.parse(kept.output()) as { readings: { kind: string; series: number[] }[] }
      const series = readings.find(({ kind }) => kind === 'input-latency-run')?.series ?? []
      // Refresh, height, first light, half of the step.
      measured = series.filter((_, i) => i % 4 === 3)
    }
    const seen = byScreen(presses, watched.bright)
    process.stdout.write(
      `  by the rig ${measured.map((ms) => ms.toFixed(1)).join(', ')} ms; by the screen ${seen.map((ms) => ms.toFixed(1)).join(', ')} ms\n`,
    )
    expect(measured).toHaveLength(EVENTS)
    expect(seen).toHaveLength(EVENTS)
    measured.forEach((ms, i) => expect(Math.abs(ms - (seen[i] ?? Number.NaN))).toBeLessThan(FRAME_MS))
  } finally {
    for (const end of ends) await end()
  }
})
