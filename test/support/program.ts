/** The built program as its users start it, in processes of its own. */
import { spawn, type ChildProcess } from 'node:child_process'
import { existsSync } from 'node:fs'
import { join } from 'node:path'
import type { Readable } from 'node:stream'
import { fileURLToPath } from 'node:url'

const BUILD = process.env['SLEWLIGHT_BUILD'] ?? fileURLToPath(new URL('../../out', import.meta.url))
const CLI = join(BUILD, 'main/cli.js')
if (!existsSync(CLI)) throw new Error('The program is not built: run `npm run build` first.')

export interface Finished {
  readonly code: number | null
  readonly signal: NodeJS.Signals | null
  readonly stdout: string
  readonly stderr: string
}

export interface Running {
  readonly process: ChildProcess
  readonly done: Promise<Finished>
  /** Resolves once standard output or error contains the text; rejects when the process ends first. */
  said(text: string | RegExp): Promise<void>
  kill(signal: NodeJS.Signals): Promise<Finished>
}

/** `slewlight …` under the Node that runs the tests. */
export function slewlight(args: readonly string[]): Running {
  return watched(spawn(process.execPath, [CLI, ...args], { stdio: ['ignore', 'pipe', 'pipe'] }))
}

/** The same at a terminal of its own, by socat; `type` types a line. Arguments hold no spaces, commas or colons. */
export function atTerminal(args: readonly string[]): Running & { type(line: string): void } {
  const command = [process.execPath, CLI, ...args].join(' ')
  const child = spawn('socat', [`EXEC:${command},pty,setsid,ctty,stderr,echo=0`, 'STDIO'], {
    stdio: ['pipe', 'pipe', 'pipe'],
  })
  return { ...watched(child), type: (line) => void child.stdin.write(`${line}\n`) }
}

function watched(child: ChildProcess & { readonly stdout: Readable; readonly stderr: Readable }): Running {
  let stdout = ''
  let stderr = ''
  const checks = new Set<() => void>()
  const heard = (): void => checks.forEach((check) => check())
  child.stdout.on('data', (chunk: Buffer) => {
    stdout += chunk.toString()
    heard()
  })
  child.stderr.on('data', (chunk: Buffer) => {
    stderr += chunk.toString()
    heard()
  })
  const done = new Promise<Finished>((resolve) => {
    child.on('close', (code, signal) => resolve({ code, signal, stdout, stderr }))
  })
  return {
    process: child,
    done,
    said: (text) =>
      new Promise((resolve, reject) => {
        const check = (): void => {
          const all = stdout + stderr
          if (!(typeof text === 'string' ? all.includes(text) : text.test(all))) return
          checks.delete(check)
          resolve()
        }
        checks.add(check)
        check()
        void done.then(() => reject(new Error(`The program ended before it said ${String(text)}: ${stdout}${stderr}`)))
      }),
    kill(signal) {
      child.kill(signal)
      return done
    },
  }
}
