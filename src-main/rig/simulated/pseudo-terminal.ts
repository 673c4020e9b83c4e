/**
 * A pseudo-terminal made by `socat`, whose far end is this process. As with a real adapter, the rig does not notice
 * whether anybody has the port open; pulling the cable makes the port vanish.
 */
import { spawn, type ChildProcess } from 'node:child_process'
import { closeSync, constants, existsSync, lstatSync, openSync, readlinkSync, unlinkSync } from 'node:fs'
import { AppError } from '#shared/domain/errors.ts'

export interface PseudoTerminal {
  write(bytes: Uint8Array): void
  /** Resolves when the terminal is gone; rejects never. `reason` is empty after `close`. */
  readonly ended: Promise<string>
  close(): Promise<void>
}

const APPEAR_MS = 5000
/** socat sees the end of a killed process a moment after its parent is gone, and takes its terminal with it. */
const LEFT_BEHIND_MS = 2000

/** Makes a terminal with a link to it at a path. Rejects with `conflict` (path taken) or `not-found` (no socat). */
export async function openPseudoTerminal(path: string, onData: (chunk: Uint8Array) => void): Promise<PseudoTerminal> {
  await removeStaleLink(path)
  const child = spawn('socat', [`PTY,link=${socatText(path)},raw,echo=0`, 'STDIO'], {
    stdio: ['pipe', 'pipe', 'pipe'],
    // Signals of the terminal this was started from are for this process to pass on.
    detached: true,
  })
  let closing = false
  let complaint = ''
  child.stderr.setEncoding('utf8')
  child.stderr.on('data', (text: string) => {
    complaint = (complaint + text).slice(-500)
  })
  child.stdin.on('error', () => undefined)
  child.stdout.on('data', (chunk: Buffer) => onData(chunk))
  const ended = new Promise<string>((resolve) => {
    child.on('error', (error: NodeJS.ErrnoException) => {
      complaint = error.code === 'ENOENT' ? 'ENOENT' : error.message
      resolve(complaint)
    })
    child.on('exit', () => resolve(closing ? '' : `socat ended: ${complaint.trim() || 'without a word'}`))
  })
  const held = await appear(path, child, ended)
  return {
    write(bytes) {
      if (child.stdin.writable) child.stdin.write(bytes)
    },
    ended,
    async close() {
      closing = true
      // The own hold on the terminal must go too, or its reader would never see the end.
      closeSync(held)
      child.kill('SIGTERM')
      await ended
    },
  }
}

/** Waits for the link and opens it once: without any holder the terminal would end when the first host closes it. */
async function appear(path: string, child: ChildProcess, ended: Promise<string>): Promise<number> {
  let reason: string | null = null
  void ended.then((why) => {
    reason = why
    return undefined
  })
  const started = performance.now()
  for (;;) {
    if (existsSync(path)) return openSync(path, constants.O_RDWR | constants.O_NOCTTY | constants.O_NONBLOCK)
    if (reason === 'ENOENT')
      throw new AppError(
        'not-found',
        'The program socat, which makes pseudo-terminals, is not installed.',
        'Install the Debian package socat (apt-get install socat).',
      )
    if (reason !== null || performance.now() - started > APPEAR_MS) {
      child.kill('SIGKILL')
      throw new AppError('conflict', `No pseudo-terminal appeared at ${path}: ${reason ?? 'it took too long'}`)
    }
    // One look after another is what is waited for.
    // oxlint-disable-next-line no-await-in-loop
    await new Promise((resolve) => {
      setTimeout(resolve, 5)
    })
  }
}

/** Only what a killed process left behind is removed: a link to a pseudo-terminal that is gone, or goes within a moment. */
async function removeStaleLink(path: string): Promise<void> {
  const started = performance.now()
  while (isTerminalLink(path) && existsSync(path) && performance.now() - started < LEFT_BEHIND_MS) {
    // One look after another is what is waited for.
    // oxlint-disable-next-line no-await-in-loop
    await new Promise((resolve) => {
      setTimeout(resolve, 20)
    })
  }
  const found = lstatSync(path, { throwIfNoEntry: false })
  if (found === undefined) return
  if (!isTerminalLink(path) || existsSync(path))
    throw new AppError(
      'conflict',
      `${path} is taken by something else, or by a terminal in use.`,
      'Choose another path for the terminal, or remove what is there.',
    )
  unlinkSync(path)
}

function isTerminalLink(path: string): boolean {
  const found = lstatSync(path, { throwIfNoEntry: false })
  return found?.isSymbolicLink() === true && /^\/dev\/pts\/\d+$/.test(readlinkSync(path))
}

/** Characters with a meaning in socat's addresses, escaped. */
function socatText(path: string): string {
  return path.replaceAll(/[\\,:!"'()[\]{}]/g, (c) => `\\${c}`)
}
