/**
 * What is in the built files, read from them: a mistake here leaves every other test green and the program dead.
 * `npm test` builds before it comes here.
 */
import { spawnSync } from 'node:child_process'
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { builtinModules } from 'node:module'
import { tmpdir } from 'node:os'
import { dirname, join, relative, resolve } from 'node:path'
import { beforeAll, describe, expect, it } from 'vitest'

const project = resolve(import.meta.dirname, '../..')
const out = join(project, 'out')
const main = join(out, 'main')

const isBuiltin = (name: string) => name.startsWith('node:') || builtinModules.includes(name)
const textOf = (path: string) => readFileSync(path, 'utf8')

/** Files and packages a built file asks for, directly or through others; worker threads are entries of their own. */
function reach(entry: string): { files: Set<string>; packages: Set<string> } {
  const files = new Set<string>()
  const packages = new Set<string>()
  const visit = (path: string): void => {
    if (files.has(path)) return
    files.add(path)
    for (const [, name = ''] of textOf(path).matchAll(/\brequire\(["']([^"']+)["']\)/g)) {
      if (name.startsWith('.')) visit(resolve(dirname(path), name))
      else if (!isBuiltin(name)) packages.add(name)
    }
  }
  visit(entry)
  return { files, packages }
}

/** Built worker threads, as `new Worker(new URL("…"))` names them. */
function workers(): string[] {
  const found = new Set<string>()
  for (const name of readdirSync(main, { recursive: true, encoding: 'utf8' })) {
    if (!name.endsWith('.js')) continue
    const path = join(main, name)
    for (const [, url = ''] of textOf(path).matchAll(/new URL\("([^"]+\.js)"/g)) found.add(resolve(dirname(path), url))
  }
  return [...found]
}

/** Asked for by the WebSocket library where it is installed; it does without. */
const OPTIONAL = ['bufferutil', 'utf-8-validate']
const needed = (entry: string) => [...reach(entry).packages].filter((name) => !OPTIONAL.includes(name)).sort()

beforeAll(() => {
  if (!existsSync(join(main, 'server.js'))) throw new Error('Nothing is built yet: run npm run build first.')
})

describe('the built host', () => {
  it('asks for electron in the desktop entry and nowhere else', () => {
    expect(needed(join(main, 'electron.js'))).toEqual(['electron', 'serialport'])
    for (const name of ['server.js', 'start.js', 'cli.js']) expect(needed(join(main, name))).toEqual(['serialport'])
  })

  it('has a thread for the archive that alone loads SQLite, and none that loads the serial port', () => {
    const threads = workers().map(needed)
    expect(threads).toHaveLength(2)
    expect(threads).toContainEqual(['better-sqlite3'])
    expect(threads).toContainEqual([])
  })

  it('names only packages that an installation without development tools has', () => {
    const { dependencies } = JSON.parse(textOf(join(project, 'package.json'))) as { dependencies: object }
    const asked = [...workers(), ...['electron.js', 'server.js', 'cli.js', 'start.js'].map((name) => join(main, name))]
    const names = new Set(asked.flatMap(needed))
    names.delete('electron')
    expect([...names].sort()).toEqual(Object.keys(dependencies).sort())
  })

  it('runs the guard before anything else', () => {
    for (const name of ['electron.js', 'server.js', 'cli.js', 'start.js']) {
      const required = [...textOf(join(main, name)).matchAll(/require\("([^"]+)"\)/g)].map((match) => match[1] ?? '')
      // A chunk with the bundler's own helpers may come first; whatever does loads nothing itself.
      const guard = required.findIndex((path) => /guard/.test(path))
      expect([name, guard]).toEqual([name, expect.any(Number)])
      expect(guard).toBeGreaterThanOrEqual(0)
      for (const path of required.slice(0, guard)) expect(textOf(join(main, path))).not.toMatch(/\brequire\("/)
    }
  })

  it('turns an older Node away in words, and judges Electron by nothing', () => {
    const folder = mkdtempSync(join(tmpdir(), 'slewlight-guard-'))
    const pretend = (versions: Record<string, string | undefined>) => {
      const script = join(folder, 'pretend.cjs')
      writeFileSync(
        script,
        `Object.defineProperty(process, 'versions', { value: { ...process.versions, ...${JSON.stringify(versions)} } })`,
      )
      const args = ['--require', script, join(main, 'server.js'), '--help']
      return spawnSync(process.execPath, args, { encoding: 'utf8' })
    }
    const old = pretend({ napi: '9', node: '20.20.2' })
    expect([old.status, old.stdout]).toEqual([1, ''])
    expect(old.stderr).toContain('Slewlight needs Node.js 22.14 or newer; this is 20.20.2.')
    expect(pretend({ napi: '8', electron: '25.1.1' }).status).toBe(0)
    expect(pretend({}).status).toBe(0)
    rmSync(folder, { recursive: true })
  })

  it('holds no path of the machine it was built on', () => {
    for (const name of readdirSync(out, { recursive: true, encoding: 'utf8' })) {
      if (!/\.(js|cjs|html|css)$/.test(name)) continue
      expect([name, textOf(join(out, name)).includes(project)]).toEqual([name, false])
    }
  })
})

describe('the built pages', () => {
  it('have a preload script by the name the windows look for, as CommonJS, asking for electron alone', () => {
    const preload = join(out, 'preload', 'preload.cjs')
    expect(textOf(join(main, 'electron.js'))).toContain('../preload/preload.cjs')
    expect([...reach(preload).packages]).toEqual(['electron'])
    expect(textOf(preload)).not.toMatch(/^\s*(import|export)\s/m)
  })

  it('hold nothing their policy would refuse: no inline scripts or styles, no foreign addresses', () => {
    for (const name of ['index.html', 'stimulus.html']) {
      const html = textOf(join(out, 'renderer', name))
      expect(html).not.toMatch(/<script(?![^>]*\bsrc=)/)
      expect(html).not.toMatch(/<style|\sstyle=|\son\w+=/)
      for (const [, address = ''] of html.matchAll(/(?:src|href)="([^"]*)"/g)) {
        if (address === 'data:,') continue
        const file = join(out, 'renderer', address)
        expect([address, existsSync(file), relative(out, file).startsWith('renderer')]).toEqual([address, true, true])
      }
    }
  })

  it('keep the framework out of the stimulus page', () => {
    const html = textOf(join(out, 'renderer', 'stimulus.html'))
    const scripts = [...html.matchAll(/(?:src|href)="([^"]*\.js)"/g)].map(([, address = '']) => address)
    expect(scripts.length).toBeGreaterThan(0)
    for (const address of scripts) expect(textOf(join(out, 'renderer', address))).not.toMatch(/react\.element|uPlot/)
  })
})
