import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { mkdir, mkdtemp, readdir, rm, stat, writeFile } from 'node:fs/promises'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { createStaging } from '#main/platform/staging.ts'

let root: string
let now = 0
beforeEach(async () => {
  root = await mkdtemp(join(tmpdir(), 'slewlight-staging-test-'))
  now = 0
})
afterEach(() => rm(root, { recursive: true }))

const open = () => createStaging({ clock: { now: () => now }, root, maxFileBytes: 100, maxBytes: 250, staleS: 60 })
const bytes = (length: number, fill = 1): Uint8Array => new Uint8Array(length).fill(fill)

describe('staged files', () => {
  it('of a host that was killed go when the next one starts; those of a running host stay', async () => {
    const killed = spawn(process.execPath, ['-e', ''])
    const { pid } = killed
    await once(killed, 'exit')
    await mkdir(join(root, `slewlight-staged-${pid}-a1B2c3`))
    await writeFile(join(root, `slewlight-staged-${pid}-a1B2c3`, 'file'), 'left')
    await mkdir(join(root, `slewlight-staged-${process.pid}-a1B2c3`))
    await mkdir(join(root, 'slewlight-staged-elsewhere'))
    // Left where a bundle was being made or verified, which can be gigabytes.
    for (const kind of ['bundle', 'verify'])
      for (const owner of [pid, process.pid])
        await mkdir(join(root, `slewlight-${kind}-${owner}-a1B2c3`, 'data'), { recursive: true })
    await open().close()
    expect((await readdir(root)).sort()).toEqual([
      `slewlight-bundle-${process.pid}-a1B2c3`,
      `slewlight-staged-${process.pid}-a1B2c3`,
      'slewlight-staged-elsewhere',
      `slewlight-verify-${process.pid}-a1B2c3`,
    ])
  })

  it('are put together from their pieces, are the user’s alone, and go when the host does', async () => {
    const staging = open()
    expect(await readdir(root)).toEqual([])
    const id = await staging.append(null, bytes(3, 1))
    const other = await staging.append(null, bytes(1, 9))
    expect(await staging.append(id, bytes(2, 2))).toBe(id)
    expect([...(await staging.read(id))]).toEqual([1, 1, 1, 2, 2])
    expect([...(await staging.read(other))]).toEqual([9])
    const [folder = ''] = await readdir(root)
    expect((await stat(join(root, folder))).mode & 0o077).toBe(0)
    await staging.discard([other, 'unknown'])
    await expect(staging.read(other)).rejects.toMatchObject({ code: 'not-found' })
    await staging.close()
    expect(await readdir(root)).toEqual([])
  })

  it('are refused when one is too large, and when all are; old ones give way first', async () => {
    const staging = open()
    const first = await staging.append(null, bytes(100))
    await expect(staging.append(first, bytes(1))).rejects.toMatchObject({ code: 'import-unreadable' })
    const second = await staging.append(null, bytes(100))
    await expect(staging.append(null, bytes(51))).rejects.toThrow(/Import them in several batches|GiB together/)
    now = 50
    await staging.read(second)
    now = 100
    const third = await staging.append(null, bytes(51))
    await expect(staging.read(first)).rejects.toMatchObject({ code: 'not-found' })
    expect((await staging.read(second)).length).toBe(100)
    expect((await staging.read(third)).length).toBe(51)
    await staging.close()
  })
})
