import { type ChildProcess, spawn, spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { access } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { ByteLink } from '#main/rig/transport/link.ts'

export const HAS_SOCAT = process.platform !== 'win32' && spawnSync('socat', ['-V']).status === 0
const REQUIRED = process.env['SLEWLIGHT_REQUIRE_ALL'] === '1'
/** Tests on pseudo-terminals run where socat is, and must run where everything is required. */
export const SKIP_PTY = !HAS_SOCAT && !REQUIRED
if (SKIP_PTY) console.warn('Skipped: tests on pseudo-terminals, because socat is not installed.')

export interface PtyPair {
  /** The host's port and the instrument's. */
  readonly host: string
  readonly far: string
  /** Both ends vanish, as when the cable is pulled. */
  pull(): Promise<void>
}

/** Two pseudo-terminals joined by socat, raw at both ends. */
export async function openPtyPair(): Promise<PtyPair> {
  if (!HAS_SOCAT) throw new Error('socat is required for this test and is not installed.')
  const folder = mkdtempSync(join(tmpdir(), 'slewlight-pty-'))
  const host = join(folder, 'host')
  const far = join(folder, 'far')
  const socat = spawn('socat', [`pty,raw,echo=0,link=${host}`, `pty,raw,echo=0,link=${far}`], { stdio: 'ignore' })
  const gone = new Promise<void>((resolve) => {
    socat.once('exit', () => resolve())
  })
  await present(socat, host, far)
  return {
    host,
    far,
    async pull() {
      socat.kill()
      await gone
      rmSync(folder, { recursive: true, force: true })
    },
  }
}

async function present(socat: ChildProcess, ...paths: readonly string[]): Promise<void> {
  for (let i = 0; i < 200; i++) {
    const found = await Promise.all(
      paths.map((path) =>
        access(path).then(
          () => true,
          () => false,
        ),
      ),
    )
    if (found.every(Boolean)) return
    if (socat.exitCode !== null) break
    await new Promise((resolve) => setTimeout(resolve, 10))
  }
  throw new Error('socat made no pseudo-terminals.')
}

/** Joins two links byte for byte; `onData` listeners must not miss anything, so it is done at once after opening. */
export function join2(a: ByteLink, b: ByteLink): void {
  for (const [from, to] of [
    [a, b],
    [b, a],
  ] as const) {
    from.onData((chunk) => void to.write(chunk).catch(() => undefined))
    from.onClose(() => void to.close())
  }
}
