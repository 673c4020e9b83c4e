/** `npm start` on machines with and without a screen and an Electron, looked at from outside. */
import { spawn } from 'node:child_process'
import { chmodSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join, resolve } from 'node:path'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'

const start = resolve(import.meta.dirname, '../../out/main/start.js')
let folder: string
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'slewlight-start-'))
})
afterEach(() => rmSync(folder, { recursive: true, force: true }))

/** What is printed until the address appears or the process ends; the process is told to end then. */
function run(
  env: Record<string, string | undefined>,
): Promise<{ output: string; code: number | null; address: string }> {
  const { DISPLAY: _display, WAYLAND_DISPLAY: _wayland, ELECTRON_OVERRIDE_DIST_PATH: _electron, ...rest } = process.env
  const child = spawn(process.execPath, [start, '--archive', join(folder, 'a.sqlite'), '--rig', 'none'], {
    env: { ...rest, XDG_STATE_HOME: folder, ...env },
    stdio: ['ignore', 'pipe', 'pipe'],
  })
  let output = ''
  let address = ''
  const read = (chunk: Buffer): void => {
    output += chunk.toString()
    if (!/Archive: .*\n/.test(output) || address !== '') return
    address = /http:\/\/127\.0\.0\.1:\d+\/#token=[0-9a-f]{32}/.exec(output)?.[0] ?? ''
    child.kill('SIGTERM')
  }
  child.stdout.on('data', read)
  child.stderr.on('data', read)
  return new Promise((done) => child.once('close', (code) => done({ output, code, address })))
}

function fakeElectron(script: string): string {
  const path = join(folder, 'electron')
  writeFileSync(path, `#!/bin/sh\n${script}\n`)
  chmodSync(path, 0o755)
  return folder
}

const onLinux = process.platform === 'linux'

describe.runIf(onLinux)('npm start', () => {
  it('serves on the loopback address without a screen, and says why in one line', async () => {
    const { output, code, address } = await run({})
    expect(output.split('\n')[0]).toBe(
      'The desktop window is not opened because there is no screen (neither DISPLAY nor WAYLAND_DISPLAY is set); ' +
        'the application is served to a browser on this machine.',
    )
    expect(address).not.toBe('')
    expect(code).toBe(0)
  })

  it('serves when the named Electron is not there', async () => {
    const { output, address } = await run({ DISPLAY: ':9', ELECTRON_OVERRIDE_DIST_PATH: join(folder, 'none') })
    expect(output).toContain(`because there is no Electron in ${join(folder, 'none')};`)
    expect(address).not.toBe('')
  })

  it('serves when Electron ends at once, as it does where a library is missing', async () => {
    const path = fakeElectron('exit 127')
    const { output, address } = await run({ DISPLAY: ':9', ELECTRON_OVERRIDE_DIST_PATH: path })
    expect(output).toContain('because Electron ended at once (exit code 127);')
    expect(address).not.toBe('')
  })

  it('opens the desktop where there is one, hands the options on, and ends with it', async () => {
    const path = fakeElectron(`printf 'ARGS:%s\\n' "$*"; printf 'NODE:%s\\n' "$ELECTRON_RUN_AS_NODE"`)
    const { output, code, address } = await run({
      DISPLAY: ':9',
      ELECTRON_OVERRIDE_DIST_PATH: path,
      ELECTRON_RUN_AS_NODE: '1',
    })
    const asRoot = process.getuid?.() === 0 ? '--no-sandbox ' : ''
    expect(output).toContain(`ARGS:${asRoot}${resolve(import.meta.dirname, '../..')}`)
    expect(output).toContain(`--archive ${join(folder, 'a.sqlite')} --rig none`)
    expect(output).toContain('NODE:\n')
    expect([code, address]).toEqual([0, ''])
  })
})
