/** What the optical loops need: a virtual screen, the program's commands, a browser that fills the screen. */
import { spawn, spawnSync } from 'node:child_process'
import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import { chromium, expect, type BrowserContext, type TestInfo } from 'playwright/test'
import type { HostOptions } from './fixtures.ts'
import { chromiumPath, electronPath, ROOT, running, type Running } from './processes.ts'

// Chromium's windows are at least 500 pixels wide.
export const WIDTH = 640
export const HEIGHT = 480

/** Skips with the reason printed, or fails where everything has to be there. */
export function skipLacking(lacking: string | null, testInfo: TestInfo): void {
  if (lacking === null) return
  if (process.env['SLEWLIGHT_REQUIRE_ALL'] === '1') throw new Error(lacking)
  process.stdout.write(`skipped: ${testInfo.title}: ${lacking}\n`)
  testInfo.skip(true, lacking)
}

/** What is not installed here, as a sentence; null when all is there. */
export function missing(hostKind: HostOptions['hostKind']): string | null {
  for (const [command, name] of [
    ['socat', 'socat'],
    ['Xvfb', 'xvfb'],
  ] as const)
    if (spawnSync('which', [command]).status !== 0)
      return `${command} is not installed (Debian: apt-get install ${name})`
  const electron = electronPath()
  return hostKind === 'electron' && 'reason' in electron ? electron.reason : null
}

/** The command line as a process of its own. */
export function slewlight(
  args: readonly string[],
  env: NodeJS.ProcessEnv = process.env,
): Running & { said(pattern: RegExp): Promise<string>; ended: Promise<number | null>; output(): string } {
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
      await expect
        .poll(() => pattern.test(output + errors), { timeout: 20_000, message: `waiting for ${pattern}` })
        .toBe(true)
      return pattern.exec(output + errors)?.[0] ?? ''
    },
  }
}

/** A screen without a screen, its pixels in a file of the folder. */
export async function virtualScreen(folder: string): Promise<{ display: string; screen: Running }> {
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

export async function kioskBrowser(profile: string, display: string): Promise<BrowserContext> {
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
