/** One page, whichever way in: Chromium on the loopback server, or the window of the desktop application. */
import { copyFile, mkdtemp, rm } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import {
  test as base,
  chromium,
  type Browser,
  type BrowserContext,
  type ElectronApplication,
  type Page,
} from 'playwright/test'
import {
  chromiumPath,
  electronLacking,
  launchElectron,
  openScreen,
  plantArchive,
  skipLacking,
  startServer,
} from './processes.ts'

export { expect, type Page } from 'playwright/test'

export interface HostOptions {
  readonly hostKind: 'browser' | 'electron'
}

/** The running application as a test sees it. */
export interface Host {
  readonly kind: HostOptions['hostKind']
  readonly archive: string
  readonly page: Page
  /** Texts of errors and warnings on the page's console, and of uncaught errors. */
  readonly problems: string[]
  /** Opens the page of the display under test: a second tab, or the desktop's stimulus window. */
  openStimulus(): Promise<Page>
  /** The desktop application; null in the browser. */
  readonly electron: ElectronApplication | null
  /** Kills the host without warning and starts it again on the same archive; the page is a new one. */
  restart(): Promise<Host>
}

interface Fixtures {
  /** More arguments for the host, such as `--rig none`. */
  readonly hostArgs: readonly string[]
  /** Captures of a simulated archive with planted defects that the host opens; 0 begins with an empty one. */
  readonly planted: number
  readonly host: Host
  readonly page: Page
}
interface WorkerFixtures extends HostOptions {
  readonly chromiumBrowser: () => Promise<Browser>
  readonly screenDisplay: string
  /** Path of a planted archive of so many captures, made once for a worker. */
  readonly plantedArchive: (captures: number) => Promise<string>
}

export const test = base.extend<Fixtures, WorkerFixtures>({
  hostKind: ['browser', { option: true, scope: 'worker' }],
  hostArgs: [[], { option: true }],
  planted: [0, { option: true }],

  chromiumBrowser: [
    // The runner reads the first argument's pattern.
    // oxlint-disable-next-line no-empty-pattern
    async ({}, use) => {
      let browser: Browser | null = null
      await use(async () => (browser ??= await launchChromium()))
      await (browser as Browser | null)?.close()
    },
    { scope: 'worker' },
  ],

  screenDisplay: [
    async ({ hostKind }, use) => {
      if (hostKind === 'browser') {
        await use('')
        return
      }
      const screen = await openScreen()
      await use(screen.display)
      await screen.stop()
    },
    { scope: 'worker' },
  ],

  plantedArchive: [
    // oxlint-disable-next-line no-empty-pattern
    async ({}, use) => {
      const folder = await mkdtemp(join(tmpdir(), 'slewlight-planted-'))
      const made = new Map<number, Promise<string>>()
      await use((captures) => {
        const path = join(folder, `${captures}.sqlite`)
        const known = made.get(captures) ?? plantArchive(path, captures).then(() => path)
        made.set(captures, known)
        return known
      })
      await rm(folder, { recursive: true, force: true })
    },
    { scope: 'worker', timeout: 180_000 },
  ],

  host: async ({ hostKind, hostArgs, planted, plantedArchive, chromiumBrowser, screenDisplay }, use, testInfo) => {
    if (hostKind === 'electron') skipLacking(electronLacking(), testInfo)
    const folder = await mkdtemp(join(tmpdir(), 'slewlight-e2e-'))
    const ends: (() => Promise<void>)[] = []
    const archive = join(folder, 'archive.sqlite')
    if (planted > 0) await copyFile(await plantedArchive(planted), archive)
    const open = async (): Promise<Host> =>
      hostKind === 'browser'
        ? inBrowser(await chromiumBrowser(), archive, hostArgs, ends, open)
        : inElectron(folder, screenDisplay, hostArgs, ends, open)
    await use(await open())
    // oxlint-disable-next-line no-await-in-loop
    for (const end of ends.toReversed()) await end()
    await rm(folder, { recursive: true, force: true })
  },

  page: async ({ host }, use) => {
    await use(host.page)
  },
})

async function launchChromium(): Promise<Browser> {
  const args = ['--no-sandbox', '--disable-gpu', '--force-color-profile=srgb']
  return chromium.launch({ executablePath: await chromiumPath(), args })
}

function listen(page: Page, problems: string[]): void {
  page.on('console', (message) => {
    if (message.type() === 'error' || message.type() === 'warning') problems.push(message.text())
  })
  page.on('pageerror', (error) => problems.push(String(error)))
}

async function inBrowser(
  browser: Browser,
  archive: string,
  args: readonly string[],
  ends: (() => Promise<void>)[],
  again: () => Promise<Host>,
): Promise<Host> {
  const server = await startServer(archive, args)
  ends.push(() => server.stop())
  const context: BrowserContext = await browser.newContext({ viewport: { width: 1280, height: 900 } })
  ends.push(() => context.close())
  const problems: string[] = []
  const page = await context.newPage()
  listen(page, problems)
  await page.goto(server.url)
  return {
    kind: 'browser',
    archive,
    page,
    problems,
    electron: null,
    async openStimulus() {
      const stimulus = await context.newPage()
      listen(stimulus, problems)
      await stimulus.goto(server.stimulusUrl)
      await stimulus.getByRole('button', { name: 'Start full screen' }).click()
      return stimulus
    },
    async restart() {
      server.process.kill('SIGKILL')
      await context.close()
      return again()
    },
  }
}

async function inElectron(
  folder: string,
  display: string,
  args: readonly string[],
  ends: (() => Promise<void>)[],
  again: () => Promise<Host>,
): Promise<Host> {
  const archive = join(folder, 'archive.sqlite')
  const { electron, page } = await launchElectron(folder, display, ['--archive', archive, ...args])
  ends.push(() => electron.close())
  const problems: string[] = []
  listen(page, problems)
  await page.waitForLoadState('domcontentloaded')
  return {
    kind: 'electron',
    archive,
    page,
    problems,
    electron,
    async openStimulus() {
      const opened = electron.waitForEvent('window')
      await page.getByRole('button', { name: /^Open (window|again)$/ }).click()
      const stimulus = await opened
      listen(stimulus, problems)
      return stimulus
    },
    async restart() {
      electron.process().kill('SIGKILL')
      return again()
    },
  }
}
