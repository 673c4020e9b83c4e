#!/usr/bin/env node
import './guard.ts'
import { once } from 'node:events'
import { resolve } from 'node:path'
import { createInterface } from 'node:readline'
import { fileURLToPath } from 'node:url'
import { runCli } from '#main/cli/program.ts'
import type { CliHost, CliProcess } from '#main/cli/host.ts'
import type { ChangeCommand } from '#shared/domain/change-command.ts'
import type { Changer } from '#main/core/campaign/arrival.ts'
import { runChangeProgram } from '#main/platform/change-program.ts'
import { createClock } from '#main/platform/clock.ts'
import { openLog } from '#main/platform/log.ts'
import { standardPaths } from '#main/platform/paths.ts'
import { VERSION } from './version.ts'

const interfaceFolder = fileURLToPath(new URL('../renderer', import.meta.url))
const paths = standardPaths()
const log = openLog(paths.logFolder)

// Most of the program is loaded only by the commands that need it: `measure` in a loop starts quickly.
const host: CliHost = {
  version: VERSION,
  standardArchive: paths.archive,
  async openStore(archive, use) {
    const { openArchive } = await import('./compose.ts')
    return openArchive({ archive, log, readOnly: use === 'look', mustExist: true })
  },
  async openCore({ archive, stimulusPage, speed, create, change }) {
    const { composeCore, composeHost } = await import('./compose.ts')
    const clock = createClock(speed)
    const opening = { archive, log, clock, mustExist: !create, host: 'server' } as const
    if (!stimulusPage) {
      const changer = change === undefined ? undefined : changerOf(change)
      const { core, store } = await composeCore({ ...opening, ...(changer === undefined ? {} : { changer }) })
      return { core, store, stimulusUrl: null, close: () => core.close() }
    }
    const { startLoopback } = await import('#main/transport/loopback.ts')
    const { NO_WINDOWS } = await import('./serve.ts')
    const composed = await composeHost({ ...opening, windows: NO_WINDOWS, rig: null })
    const loopback = await startLoopback({ serve: composed.serve, root: interfaceFolder, log })
    const close = async (): Promise<void> => {
      await loopback.close()
      await composed.close()
    }
    return { core: composed.core, store: composed.store, stimulusUrl: loopback.stimulusUrl, close }
  },
  async library() {
    const { composeLibrary } = await import('./compose.ts')
    return composeLibrary(log)
  },
  async publisher() {
    const { createPublisher } = await import('#main/publish/publisher.ts')
    return createPublisher()
  },
  async demo(folder, onProgress, signal) {
    const { readyDemo } = await import('./demo.ts')
    return readyDemo({ log, onProgress, signal, ...(folder === undefined ? {} : { folder: resolve(folder) }) })
  },
  async verify(bundle, options) {
    const { verifyBundle } = await import('#main/publish/bundle/verify-path.ts')
    const { measureCapture } = await import('#shared/measure/measure-capture.ts')
    return verifyBundle(bundle, { ...options, measure: async (input) => measureCapture(input) })
  },
  async salvage(archive) {
    const { salvageAt } = await import('./compose.ts')
    const { words, lostCaptures, asidePath, ...counts } = await salvageAt({ archive, log })
    return { ...counts, lost_captures: lostCaptures, damaged_file: asidePath, words }
  },
  async serve(args) {
    const { runServer } = await import('./serve.ts')
    await runServer(args, interfaceFolder)
  },
}

/** A program of the operator's, or a simulated display that follows the plan. */
function changerOf(change: ChangeCommand | 'ask' | null): Changer {
  if (change === 'ask') return { kind: 'ask' }
  if (change === null) return { kind: 'follows' }
  return { kind: 'command', run: (visit, signal) => runChangeProgram(change, visit, signal) }
}

const SIGNALS = ['SIGINT', 'SIGTERM', 'SIGHUP'] as const

async function typedLine(signal: AbortSignal): Promise<string | null> {
  const lines = createInterface({ input: process.stdin })
  try {
    const [line] = (await Promise.race([once(lines, 'line', { signal }), once(lines, 'close', { signal })])) as string[]
    return line ?? null
  } catch (error) {
    if (signal.aborted) return null
    throw error
  } finally {
    lines.close()
  }
}

const surroundings: CliProcess = {
  out: (text) => void process.stdout.write(text),
  write: async (bytes) => {
    if (!process.stdout.write(bytes)) await once(process.stdout, 'drain')
  },
  err: (text) => void process.stderr.write(text),
  liveErr: process.stderr.isTTY,
  typed: process.stdin.isTTY ? typedLine : null,
  onInterrupt(listener) {
    for (const name of SIGNALS) process.on(name, listener)
    return () => {
      for (const name of SIGNALS) process.off(name, listener)
    }
  },
}

// A reader that has seen enough (`| head`) closes the pipe; that is no fault.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  if (error.code === 'EPIPE') process.exit(0)
  throw error
})

void runCli(process.argv.slice(2), host, surroundings).then((code) => {
  process.exitCode = code
  return undefined
})
