import { type ChildProcess, spawn } from 'node:child_process'
import { once } from 'node:events'
import { fileURLToPath } from 'node:url'

export interface Child {
  readonly process: ChildProcess
  /** Whole lines printed so far. */
  lines(): string[]
  /** Resolves when a line begins with the text. */
  said(text: string): Promise<void>
  kill(): Promise<void>
}

export function startChild(path: string, mode: 'capture' | 'hold'): Child {
  return startScript('./child.ts', [path, mode])
}

/** A script of this folder in a process of its own. */
export function startScript(script: string, args: readonly string[]): Child {
  const child = spawn(
    process.execPath,
    ['--disable-warning=MODULE_TYPELESS_PACKAGE_JSON', fileURLToPath(new URL(script, import.meta.url)), ...args],
    { stdio: ['ignore', 'pipe', 'inherit'] },
  )
  let text = ''
  child.stdout.setEncoding('utf8').on('data', (part: string) => {
    text += part
  })
  const lines = (): string[] => text.split('\n').slice(0, -1)
  return {
    process: child,
    lines,
    async said(start) {
      while (!lines().some((line) => line.startsWith(start))) {
        if (child.exitCode !== null || child.signalCode !== null) throw new Error(`The process ended: ${text}`)
        await new Promise((resolve) => {
          setTimeout(resolve, 5)
        })
      }
    },
    async kill() {
      if (child.exitCode !== null || child.signalCode !== null) return
      const closed = once(child, 'close')
      child.kill('SIGKILL')
      await closed
    },
  }
}
