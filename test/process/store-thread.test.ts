import { execFile } from 'node:child_process'
import { platform } from 'node:process'
import { fileURLToPath } from 'node:url'
import { promisify } from 'node:util'
import { describe, expect, it } from 'vitest'
import { temporaryFolder } from '../store/fixtures.ts'

const SCRIPT = fileURLToPath(new URL('store-thread.ts', import.meta.url))

describe('native code of the archive', () => {
  // Where it is unmapped, the last garbage collection of the ended thread calls into nothing, and the program dies.
  it.skipIf(platform !== 'linux')(
    'stays mapped after the thread that used it has ended (seen in /proc, so on Linux only)',
    async () => {
      const folder = temporaryFolder()
      try {
        const run = await promisify(execFile)(process.execPath, [
          '--disable-warning=MODULE_TYPELESS_PACKAGE_JSON',
          SCRIPT,
          folder.path,
        ])
        expect(JSON.parse(run.stdout)).toEqual({ whileOpen: true, afterClosing: true })
      } finally {
        folder.remove()
      }
    },
  )
})
