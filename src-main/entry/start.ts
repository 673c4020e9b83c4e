/**
 * `npm start`: the desktop application where there is an Electron and a screen, else the same application on the
 * loopback address, with the reason in one line.
 */
import './guard.ts'
import { spawn, spawnSync } from 'node:child_process'
import { existsSync, readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'

/** Fetching takes a minute or two on a usual line; without a way to the host it fails much earlier. */
const FETCH_MS = 180_000
/** A desktop that ends sooner than this with an error never came up. */
const COME_UP_MS = 8000

const root = fileURLToPath(new URL('../..', import.meta.url))
const binaryName =
  { win32: 'electron.exe', darwin: 'Electron.app/Contents/MacOS/Electron' }[process.platform as string] ?? 'electron'

function say(line: string): void {
  process.stdout.write(`${line}\n`)
}

/** The binary's path, or the reason why there is none. */
function findElectron(): { readonly path: string } | { readonly reason: string } {
  if (process.platform === 'linux' && !process.env['DISPLAY'] && !process.env['WAYLAND_DISPLAY'])
    return { reason: 'there is no screen (neither DISPLAY nor WAYLAND_DISPLAY is set)' }
  const override = process.env['ELECTRON_OVERRIDE_DIST_PATH']
  if (override) {
    const path = join(override, binaryName)
    return existsSync(path) ? { path } : { reason: `there is no Electron in ${override}` }
  }
  const folder = packageFolder()
  if (folder === null) return { reason: 'the package electron is not installed' }
  return installed(folder) ?? fetchElectron(folder)
}

function packageFolder(): string | null {
  try {
    return dirname(createRequire(import.meta.url).resolve('electron/package.json'))
  } catch {
    return null
  }
}

function installed(folder: string): { readonly path: string } | null {
  const note = join(folder, 'path.txt')
  if (!existsSync(note)) return null
  const path = join(folder, 'dist', readFileSync(note, 'utf8').trim())
  return existsSync(path) ? { path } : null
}

function fetchElectron(folder: string): { readonly path: string } | { readonly reason: string } {
  say('Fetching Electron (only the first time)…')
  const fetched = spawnSync(process.execPath, [join(folder, 'install.js')], { timeout: FETCH_MS, stdio: 'ignore' })
  const found = installed(folder)
  if (found !== null) return found
  return {
    reason: fetched.signal === null ? 'Electron could not be fetched' : 'Electron was not fetched within three minutes',
  }
}

/** Runs the desktop until it is closed; answers with the reason when it did not come up. */
function runDesktop(binary: string, args: readonly string[]): Promise<string | null> {
  const flags = process.platform === 'linux' && process.getuid?.() === 0 ? ['--no-sandbox'] : []
  const { ELECTRON_RUN_AS_NODE: _asNode, ...env } = process.env
  const startedAt = Date.now()
  const child = spawn(binary, [...flags, root, ...args], { stdio: 'inherit', env })
  for (const name of ['SIGINT', 'SIGTERM'] as const) process.on(name, () => child.kill(name))
  return new Promise((resolve) => {
    child.on('error', (error) => resolve(`Electron could not be started (${error.message})`))
    child.on('exit', (code, signal) => {
      const failed = signal !== 'SIGINT' && signal !== 'SIGTERM' && code !== 0
      if (failed && Date.now() - startedAt < COME_UP_MS)
        resolve(`Electron ended at once (${signal ?? `exit code ${code}`})`)
      else {
        process.exitCode = code ?? 0
        resolve(null)
      }
    })
  })
}

async function start(args: readonly string[]): Promise<void> {
  const found = findElectron()
  const reason = 'path' in found ? await runDesktop(found.path, args) : found.reason
  if (reason === null) return
  say(`The desktop window is not opened because ${reason}; the application is served to a browser on this machine.`)
  const { serve } = await import('./serve.ts')
  await serve(args, fileURLToPath(new URL('../renderer', import.meta.url)))
}

void start(process.argv.slice(2))
