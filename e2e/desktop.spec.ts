import { execFileSync, spawn, type ChildProcess } from 'node:child_process'
import { once } from 'node:events'
import { copyFileSync, readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from './fixtures.ts'
import {
  electronLacking,
  electronPath,
  hostEnvironment,
  ROOT,
  running,
  type Running,
  skipLacking,
} from './processes.ts'

test('gives its pages no Node, no network, no other pages and no devices', async ({ host, page }) => {
  expect(await page.evaluate('[typeof require, typeof process, typeof module]')).toEqual(Array(3).fill('undefined'))
  expect(await page.evaluate('Object.keys(slewlight)')).toEqual(['host', 'requestPort'])
  expect(await page.evaluate(`window.open('https://example.invalid/') === null`)).toBe(true)
  await page.evaluate(`void (location.href = 'https://example.invalid/')`)
  await expect.poll(() => page.url()).toMatch(/^app:\/\/slewlight\/index\.html/)
  // about:srcdoc is left out: asked for by the page itself it ends Electron 25, the runtime of these tests (SIGSEGV).
  for (const address of ['about:blank', 'javascript:void 0']) {
    await page.evaluate(`void setTimeout(() => (location.href = '${address}'), 0)`)
    await page.waitForTimeout(200)
    await expect.poll(() => page.url()).toMatch(/^app:\/\/slewlight\/index\.html/)
    await expect.poll(() => page.evaluate('document.body.innerText')).toContain('Simulated, panel')
  }
  const outcome = (address: string) => page.evaluate(`fetch('${address}').then((a) => a.status, () => 'refused')`)
  expect(await outcome('https://example.invalid/')).toBe('refused')
  expect(await outcome('file:///etc/passwd')).toBe('refused')
  expect(await outcome('app://other/index.html')).toBe('refused')
  expect(await outcome('/../../package.json')).toBe(404)
  const position = 'new Promise((done) => navigator.geolocation.getCurrentPosition(() => done(0), (e) => done(e.code)))'
  expect(await page.evaluate(position)).toBe(1)
  const preferences = await host.electron?.evaluate(({ BrowserWindow }) =>
    BrowserWindow.getAllWindows().map(({ webContents }) => {
      // Not in the typings.
      const known = webContents as unknown as { getLastWebPreferences(): Record<string, unknown> }
      const { contextIsolation, sandbox, nodeIntegration, webSecurity } = known.getLastWebPreferences()
      return { contextIsolation, sandbox, nodeIntegration, webSecurity }
    }),
  )
  expect(preferences).toEqual([{ contextIsolation: true, sandbox: true, nodeIntegration: false, webSecurity: true }])
})

/** Process ids of the page processes of one Electron. */
function pageProcesses(electron: number): number[] {
  const listed = execFileSync('ps', ['-eo', 'pid=,pgid=,args='], { encoding: 'utf8' }).split('\n')
  return listed
    .map((line) => /^\s*(\d+)\s+(\d+)\s+(.*)$/.exec(line) ?? [])
    .filter(([, , group, args]) => Number(group) === electron && args?.includes('--type=renderer') === true)
    .map(([, pid]) => Number(pid))
}

/** What the main window shows, through the debugging port named in a file of the profile. */
async function mainPageText(portFile: string): Promise<string> {
  const [port] = readFileSync(portFile, 'utf8').split('\n')
  const pages = (await (await fetch(`http://127.0.0.1:${port}/json`)).json()) as { webSocketDebuggerUrl: string }[]
  const socket = new WebSocket(pages[0]?.webSocketDebuggerUrl ?? '')
  try {
    const answer = await new Promise<string>((resolve, reject) => {
      const params = { expression: 'document.body.innerText' }
      socket.addEventListener('open', () => socket.send(JSON.stringify({ id: 1, method: 'Runtime.evaluate', params })))
      socket.addEventListener('message', ({ data }) => resolve(String(data)))
      socket.addEventListener('error', () => reject(new Error('The page cannot be reached.')))
    })
    return (JSON.parse(answer) as { result: { result: { value: string } } }).result.result.value
  } finally {
    socket.close()
  }
}

/** The application without the runner's own connection, its profile and log in the folder. */
function startDesktop(
  folder: string,
  display: string,
  archive: string,
  entry = ROOT,
  env: Readonly<Record<string, string>> = {},
): { readonly child: ChildProcess; readonly desktop: Running; readonly text: () => Promise<string> } {
  const profile = join(folder, 'profile')
  const args = ['--no-sandbox', '--disable-gpu', '--remote-debugging-port=0', `--user-data-dir=${profile}`]
  const child = spawn(electronPath(), [...args, entry, '--archive', archive], {
    detached: true,
    stdio: 'ignore',
    env: { ...hostEnvironment(folder), DISPLAY: display, ...env },
  })
  return { child, desktop: running(child), text: () => mainPageText(join(profile, 'DevToolsActivePort')).catch(String) }
}

// The runner's own connection keeps hold of a page that has died.
test('opens a fresh page on the running host when the page process dies', async ({ screenDisplay }, testInfo) => {
  skipLacking(electronLacking(), testInfo)
  const archive = testInfo.outputPath('archive.sqlite')
  const { child, desktop, text } = startDesktop(testInfo.outputDir, screenDisplay, archive)
  try {
    const shown = () => expect.poll(text).toContain('Simulated, panel')
    await shown()
    const before = pageProcesses(child.pid ?? 0)
    expect(before.length).toBeGreaterThan(0)
    for (const pid of before) process.kill(pid, 'SIGKILL')
    await expect.poll(() => pageProcesses(child.pid ?? 0).some((pid) => !before.includes(pid))).toBe(true)
    await shown()
    expect(child.exitCode).toBeNull()
  } finally {
    await desktop.stop()
  }
})

const CAPTURES = 60
const ASIDE = 'Set it aside and copy what can be read'

for (const answer of [ASIDE, 'Quit'])
  test(`a damaged archive is asked about: ${answer}`, async ({ screenDisplay, plantedArchive }, testInfo) => {
    skipLacking(electronLacking(), testInfo)
    const archive = testInfo.outputPath('archive.sqlite')
    copyFileSync(await plantedArchive(CAPTURES), archive)
    const damaged = readFileSync(archive).fill(0, 0, 1024)
    writeFileSync(archive, damaged)
    const askedFile = testInfo.outputPath('asked')
    const entry = join(ROOT, 'e2e/answering-main.cjs')
    const answers = { SLEWLIGHT_ANSWERS: `${answer}\nGo on`, SLEWLIGHT_ASKED: askedFile }
    const { child, desktop, text } = startDesktop(testInfo.outputDir, screenDisplay, archive, entry, answers)
    const ended = once(child, 'exit')
    const asked = (): { message: string; detail: string; buttons: string[] }[] =>
      readFileSync(askedFile, 'utf8')
        .trim()
        .split('\n')
        .map((line) => JSON.parse(line) as ReturnType<typeof asked>[number])
    const aside = (): string[] => readdirSync(testInfo.outputDir).filter((name) => name.includes('.damaged-'))
    try {
      if (answer === 'Quit') {
        expect(await ended).toEqual([1, null])
        expect(asked()).toHaveLength(1)
        expect(readFileSync(archive).equals(damaged)).toBe(true)
        expect(aside()).toEqual([])
      } else {
        await expect.poll(text).toContain('Simulated, panel')
        const [, told] = asked()
        expect(told?.message).toContain(`${CAPTURES} captures were copied from the damaged archive into a new one`)
        expect(told?.buttons).toEqual(['Go on'])
        expect(aside()).toHaveLength(1)
        expect(readFileSync(testInfo.outputPath(aside()[0] ?? '')).equals(damaged)).toBe(true)
      }
      const [first] = asked()
      expect(first?.message).toMatch(/archive\.sqlite is damaged/)
      expect(first?.detail).toContain('Salvage the archive')
      expect(first?.buttons).toEqual([ASIDE, 'Quit'])
    } finally {
      await desktop.stop()
    }
  })
