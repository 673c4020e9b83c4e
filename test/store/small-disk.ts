/** A disk of a few megabytes, where this process may mount one. */
import { execFileSync } from 'node:child_process'
import { mkdirSync } from 'node:fs'
import { temporaryFolder } from './fixtures.ts'

function canMount(): boolean {
  if (process.platform !== 'linux' || process.getuid?.() !== 0) return false
  const probe = temporaryFolder()
  try {
    execFileSync('mount', ['-t', 'tmpfs', '-o', 'size=64k', 'tmpfs', probe.path], { stdio: 'ignore' })
    execFileSync('umount', [probe.path], { stdio: 'ignore' })
    return true
  } catch {
    return false
  } finally {
    probe.remove()
  }
}

export const MOUNTS = canMount()
if (!MOUNTS && process.env['SLEWLIGHT_REQUIRE_ALL'] === '1')
  throw new Error('A disk cannot be mounted here, and SLEWLIGHT_REQUIRE_ALL=1.')
export const NO_MOUNT = ' (skipped: needs the right to mount a disk)'

/** Runs the body with a disk mounted at a path that is made for it. */
export async function onSmallDisk(disk: string, options: string, body: (disk: string) => Promise<void>): Promise<void> {
  mkdirSync(disk)
  execFileSync('mount', ['-t', 'tmpfs', '-o', options, 'tmpfs', disk])
  try {
    await body(disk)
  } finally {
    execFileSync('umount', ['-l', disk])
  }
}
