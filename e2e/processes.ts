/** Processes the end-to-end tests look at the application with. */
import { execFile, spawn, type ChildProcess } from 'node:child_process'
import { existsSync, readFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { promisify } from 'node:util'
import { _electron, type ElectronApplication, type Page, type TestInfo } from 'playwright/test'

export const ROOT = dirname(__dirname)

/** Debian's Chromium, or the one of the registry with the libraries a bare machine lacks. */
export async function chromiumPath(): Promise<string> {
  if (existsSync('/usr/bin/chromium')) return '/usr/bin/chromium'
  const { default: chromium, inflate, setupLambdaEnvironment } = await import('@sparticuz/chromium')
  const bin = join(ROOT, 'node_modules/@sparticuz/chromium/bin')
  await inflate(join(bin, 'al2023.tar.br'))
  setupLambdaEnvironment(join(tmpdir(), 'al2023', 'lib'))
  return chromium.executablePath(bin)
}

/** The Electron binary, or why there is none. */
function electronBinary(): { readonly path: string } | { readonly reason: string } {
  const override = process.env['ELECTRON_OVERRIDE_DIST_PATH']
  const folder = override ?? installedFolder()
  if (folder === null)
    return { reason: 'no Electron binary: set ELECTRON_OVERRIDE_DIST_PATH or let npm start fetch it' }
  const path = join(folder, 'electron')
  return existsSync(path) ? { path } : { reason: `no Electron binary in ${folder}` }
}

/** Why there is no Electron binary; null where there is one. */
export function electronLacking(): string | null {
  const found = electronBinary()
  return 'reason' in found ? found.reason : null
}

/** @throws where `electronLacking` has a reason */
export function electronPath(): string {
  const found = electronBinary()
  if ('reason' in found) throw new Error(found.reason)
  return found.path
}

/** Skips with the reason printed, or fails where everything has to be there. */
export function skipLacking(lacking: string | null, testInfo: TestInfo): void {
  if (lacking === null) return
  if (process.env['SLEWLIGHT_REQUIRE_ALL'] === '1') throw new Error(lacking)
  process.stdout.write(`skipped: ${testInfo.title}: ${lacking}\n`)
  testInfo.skip(true, lacking)
}

function installedFolder(): string | null {
  const folder = dirname(require.resolve('electron/package.json'))
  return existsSync(join(folder, 'path.txt')) && readFileSync(join(folder, 'path.txt'), 'utf8') !== ''
    ? join(folder, 'dist')
    : null
}

export interface Running {
  readonly process: ChildProcess
  stop(): Promise<void>
}

/** Ends by SIGTERM, and by SIGKILL when that takes longer than ten seconds. */
export function running(child: ChildProcess): Running {
  const ended = new Promise<void>((resolve) => {
    child.once('exit', () => resolve())
  })
  return {
    process: child,
    async stop() {
      if (child.exitCode !== null || child.signalCode !== null) return
      child.kill('SIGTERM')
      const timer = setTimeout(() => child.kill('SIGKILL'), 10_000)
      await ended
      clearTimeout(timer)
    },
  }
}

/** Keeps what a host writes beside its archive (its log) in the test's own folder. */
export function hostEnvironment(folder: string): Record<string, string> {
  const { ELECTRON_RUN_AS_NODE: _asNode, ...env } = process.env
  return { ...(env as Record<string, string>), XDG_STATE_HOME: folder, XDG_DATA_HOME: folder }
}

/** The desktop application on an archive of its own, its profile and log in the folder, and its first window. */
export async function launchElectron(
  folder: string,
  display: string,
  args: readonly string[],
): Promise<{ readonly electron: ElectronApplication; readonly page: Page }> {
  const flags = ['--no-sandbox', '--disable-gpu', `--user-data-dir=${join(folder, 'profile')}`]
  const electron = await _electron.launch({
    timeout: 90_000,
    executablePath: electronPath(),
    args: [...flags, ROOT, ...args],
    env: { ...hostEnvironment(folder), DISPLAY: display },
  })
  const page = await electron.firstWindow({ timeout: 90_000 })
  return { electron, page }
}

/** The built server on an archive of its own; resolves once it has printed its address. */
export async function startServer(
  archive: string,
  extra: readonly string[] = [],
): Promise<Running & { readonly url: string; readonly stimulusUrl: string }> {
  const args = [join(ROOT, 'out/main/server.js'), '--archive', archive, ...extra]
  const env = hostEnvironment(dirname(archive))
  const child = spawn(process.execPath, args, { stdio: ['ignore', 'pipe', 'pipe'], env })
  let output = ''
  const address = new Promise<{ url: string; stimulusUrl: string }>((resolve, reject) => {
    const read = (chunk: Buffer): void => {
      output += chunk.toString()
      const [url, stimulusUrl] = output.match(/http:\/\/127\.0\.0\.1:\d+\/\S*/g) ?? []
      if (url !== undefined && stimulusUrl !== undefined && output.endsWith('\n')) resolve({ url, stimulusUrl })
    }
    child.stdout.on('data', read)
    child.stderr.on('data', (chunk: Buffer) => (output += chunk.toString()))
    child.once('exit', (code) => reject(new Error(`The server ended (${code}): ${output}`)))
  })
  return { ...running(child), ...(await address) }
}

/** A simulated archive with planted defects, always the same for one count. */
export async function plantArchive(archive: string, captures: number): Promise<void> {
  const script = join(ROOT, 'test/defects/make-archive.ts')
  const quiet = '--disable-warning=MODULE_TYPELESS_PACKAGE_JSON'
  await promisify(execFile)(process.execPath, [quiet, script, archive, String(captures), '3'])
}

/** A screen to open windows on: the one at hand, or a virtual one. */
export async function openScreen(): Promise<{ readonly display: string; stop(): Promise<void> }> {
  const present = process.env['DISPLAY']
  if (present) return { display: present, stop: async () => undefined }
  const child = spawn('Xvfb', ['-displayfd', '3', '-screen', '0', '1280x1024x24', '-nolisten', 'tcp'], {
    stdio: ['ignore', 'ignore', 'ignore', 'pipe'],
  })
  const number = await new Promise<string>((resolve, reject) => {
    child.once('error', reject)
    child.once('exit', (code) => reject(new Error(`Xvfb ended (${code}).`)))
    child.stdio[3]?.once('data', (chunk: Buffer) => resolve(chunk.toString().trim()))
  })
  const screen = running(child)
  return { display: `:${number}`, stop: () => screen.stop() }
}
