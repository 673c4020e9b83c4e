/** What the optical loops need: a virtual screen, the program's commands, a browser that fills the screen. */
import { spawn, spawnSync } from 'node:child_process'
import { mkdirSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { chromium, expect, test, type BrowserContext, type Page, type TestInfo } from 'playwright/test'
import type { HostOptions } from './fixtures.ts'
import { setUp } from './operator.ts'
import { chromiumPath, electronLacking, launchElectron, ROOT, running, type Running, skipLacking } from './processes.ts'

// Chromium's windows are at least 500 pixels wide.
const WIDTH = 640
const HEIGHT = 480

/** What is not installed here, as a sentence; null when all is there. */
function missing(hostKind: HostOptions['hostKind']): string | null {
  for (const [command, name] of [
    ['socat', 'socat'],
    ['Xvfb', 'xvfb'],
  ] as const)
    if (spawnSync('which', [command]).status !== 0)
      return `${command} is not installed (Debian: apt-get install ${name})`
  return hostKind === 'electron' ? electronLacking() : null
}

interface Command extends Running {
  /** What it wrote that fits the pattern, once it has. */
  said(pattern: RegExp): Promise<string>
  readonly ended: Promise<number | null>
  output(): string
}

/** The command line as a process of its own. */
export function slewlight(args: readonly string[], env: NodeJS.ProcessEnv = process.env): Command {
  const child = spawn(process.execPath, [join(ROOT, 'out/main/cli.js'), ...args], {
    stdio: ['ignore', 'pipe', 'pipe'],
    env,
  })
  let output = ''
  let errors = ''
  child.stdout.on('data', (chunk: Buffer) => (output += chunk.toString()))
  child.stderr.on('data', (chunk: Buffer) => (errors += chunk.toString()))
  return {
    ...running(child),
    output: () => output,
    ended: new Promise((resolve) => child.once('close', resolve)),
    async said(pattern) {
      await expect.poll(() => pattern.test(output + errors), { message: `waiting for ${pattern}` }).toBe(true)
      return pattern.exec(output + errors)?.[0] ?? ''
    },
  }
}

/** A screen without a screen, its pixels in a file of the folder. */
async function virtualScreen(folder: string): Promise<{ display: string; screen: Running }> {
  mkdirSync(folder)
  const child = spawn(
    'Xvfb',
    ['-displayfd', '3', '-fbdir', folder, '-screen', '0', `${WIDTH}x${HEIGHT}x24`, '-nolisten', 'tcp'],
    {
      stdio: ['ignore', 'ignore', 'ignore', 'pipe'],
    },
  )
  const number = await new Promise<string>((resolve) =>
    child.stdio[3]?.once('data', (chunk: Buffer) => resolve(chunk.toString().trim())),
  )
  return { display: `:${number}`, screen: running(child) }
}

async function kioskBrowser(profile: string, display: string): Promise<BrowserContext> {
  return chromium.launchPersistentContext(profile, {
    executablePath: await chromiumPath(),
    headless: false,
    viewport: null,
    env: { ...(process.env as Record<string, string>), DISPLAY: display },
    args: [
      '--no-sandbox',
      '--disable-gpu',
      '--kiosk',
      `--window-size=${WIDTH},${HEIGHT}`,
      '--window-position=0,0',
      '--force-color-profile=srgb',
    ],
  })
}

export const opticalTest = test.extend<object, HostOptions>({
  hostKind: ['browser', { option: true, scope: 'worker' }],
})

/** A screen in a file, a simulated photodiode looking at its pixels, and a rig with it behind a pseudo-terminal. */
export interface OpticalBench {
  /** A file of the test's own. */
  file(name: string): string
  /** Pixels of the screen. */
  readonly pixels: string
  /** Options that lead to the rig. */
  readonly through: readonly string[]
  /** Ends something with the test, before what was opened earlier. */
  atEnd(end: () => Promise<void>): void
  /** A command with the stimulus page, and that page in full screen in a browser. */
  commandWithPage(args: readonly string[]): Promise<{ readonly run: Command; readonly stimulus: Page }>
  /** The desktop application, set up for a real screen, and its stimulus window. */
  desktop(
    args: readonly string[],
  ): Promise<{ readonly page: Page; readonly stimulus: Page; readonly close: () => Promise<void> }>
}

export async function withOpticalBench(
  hostKind: HostOptions['hostKind'],
  testInfo: TestInfo,
  rigArgs: readonly string[],
  work: (bench: OpticalBench) => Promise<void>,
): Promise<void> {
  skipLacking(missing(hostKind), testInfo)
  const folder = mkdtempSync(join(tmpdir(), 'slewlight-optical-'))
  const file = (name: string): string => join(folder, name)
  const ends: (() => Promise<void>)[] = [async () => rmSync(folder, { recursive: true, force: true })]
  try {
    const { display, screen } = await virtualScreen(file('fb'))
    ends.unshift(() => screen.stop())
    const pixels = `${file('fb')}/Xvfb_screen0`
    const eye = `xvfb:${pixels},${WIDTH / 2 - 1},${HEIGHT / 2 - 1},2`
    const rig = slewlight(['rig-sim', '--pty', file('rig'), '--control', file('control'), '--eye', eye, ...rigArgs])
    ends.unshift(() => rig.stop())
    await rig.said(/Simulated rig/)
    await work({
      file,
      pixels,
      through: ['--rig', file('rig'), '--baud', '4000000'],
      atEnd: (end) => ends.unshift(end),
      async commandWithPage(args) {
        const run = slewlight(args)
        ends.unshift(() => run.stop())
        const address = await run.said(/http:\/\/127\.0\.0\.1:\d+\/stimulus[^\s"]*/)
        const context = await kioskBrowser(file('profile'), display)
        ends.unshift(() => context.close())
        const stimulus = context.pages()[0] ?? (await context.newPage())
        await stimulus.goto(address)
        await stimulus.getByRole('button', { name: 'Start full screen' }).click()
        return { run, stimulus }
      },
      async desktop(args) {
        const { electron, page } = await launchElectron(folder, display, args)
        let closed = false
        const close = async (): Promise<void> => {
          if (!closed) await electron.close()
          closed = true
        }
        ends.unshift(close)
        await page.waitForLoadState('domcontentloaded')
        await setUp(page)
        await page.getByRole('radio', { name: 'A real screen' }).click()
        const opened = electron.waitForEvent('window')
        await page.getByRole('button', { name: /^Open (window|again)$/ }).click()
        const stimulus = await opened
        await page.keyboard.press('Escape')
        return { page, stimulus, close }
      },
    })
  } finally {
    for (const end of ends) await end()
  }
}
