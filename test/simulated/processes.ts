import { spawn, spawnSync, type ChildProcess } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'

/** Whether a program is installed; tests that need one say so when it is not. */
/** Where everything is required, a program that is missing fails the tests instead of leaving them out. */
export function hasProgram(name: string): boolean {
  if (spawnSync('which', [name]).status === 0) return true
  if (process.env['SLEWLIGHT_REQUIRE_ALL'] === '1')
    throw new Error(`${name} is not installed, and SLEWLIGHT_REQUIRE_ALL=1.`)
  return false
}

export function temporaryFolder(): { readonly path: string; remove(): void } {
  const path = mkdtempSync(join(tmpdir(), 'rig-sim-'))
  return { path, remove: () => rmSync(path, { recursive: true, force: true }) }
}

export interface StartedProcess {
  readonly child: ChildProcess
  readonly output: () => string
  /** Resolves with the exit code. */
  readonly ended: Promise<number | null>
  /** Resolves once the output holds a text; rejects when the process ends before. */
  says(text: string): Promise<void>
  stop(): Promise<number | null>
}

export function start(command: string, args: readonly string[], env: NodeJS.ProcessEnv = process.env): StartedProcess {
  const child = spawn(command, args, { stdio: ['ignore', 'pipe', 'pipe'], env })
  let output = ''
  const watchers = new Set<() => void>()
  const take = (chunk: Buffer): void => {
    output += chunk.toString()
    for (const watcher of watchers) watcher()
  }
  child.stdout.on('data', take)
  child.stderr.on('data', take)
  const ended = new Promise<number | null>((resolve) => {
    child.on('close', resolve)
  })
  return {
    child,
    ended,
    output: () => output,
    says: (text) =>
      new Promise((resolve, reject) => {
        const look = (): void => {
          if (!output.includes(text)) return
          watchers.delete(look)
          resolve()
        }
        watchers.add(look)
        void ended.then((code) => reject(new Error(`It ended (${code}): ${output}`)))
        look()
      }),
    async stop() {
      child.kill('SIGTERM')
      return ended
    },
  }
}

export function startRigSim(options: Record<string, unknown>, env = process.env): StartedProcess {
  const script = fileURLToPath(new URL('./rig-sim-process.ts', import.meta.url))
  return start(process.execPath, ['--no-warnings', script, JSON.stringify(options)], env)
}
