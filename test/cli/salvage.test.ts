/** What a person is told of a salvage, by the built program. */
import { closeSync, mkdtempSync, openSync, readdirSync, rmSync, writeSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { openTestStore, testCapture, testResult, testSweep } from '../store/fixtures.ts'
import { slewlight } from '../support/program.ts'

const CAPTURES = 12
let folder: string
let path: string

beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'slewlight-salvage-'))
  path = join(folder, 'archive.sqlite')
  const store = await openTestStore(path)
  const { sweepId } = await testSweep(store)
  for (let position = 0; position < CAPTURES; position++)
    await store.addCapture(testCapture(sweepId, position), testResult())
  await store.close()
})
afterEach(() => {
  rmSync(folder, { recursive: true })
})

function loseBeginning(): void {
  const file = openSync(path, 'r+')
  writeSync(file, new Uint8Array(1024), 0, 1024, 0)
  closeSync(file)
}

describe('the counts of a salvage are told', () => {
  it('by the command of its own, as text and as JSON', async () => {
    loseBeginning()
    const shown = await slewlight(['show', 'campaigns', '--archive', path]).done
    expect(shown.code).toBe(4)
    expect(shown.stderr).toContain('Salvage the archive')
    const { code, stdout } = await slewlight(['salvage', '--archive', path]).done
    expect(code).toBe(0)
    expect(stdout).toContain(`${CAPTURES} captures were copied from the damaged archive`)
    expect(stdout).toContain('No capture is known to be lost.')
    expect(stdout).toContain(`${path}.damaged-`)
    loseBeginning()
    const second = await slewlight(['salvage', '--archive', path, '--json']).done
    expect(JSON.parse(second.stdout)).toMatchObject({ captures: CAPTURES, lost_captures: [] })
  })

  it('by the server when it starts, and a whole archive is refused', async () => {
    loseBeginning()
    const server = slewlight(['serve', '--archive', path, '--salvage'])
    await server.said(`${CAPTURES} captures were copied`)
    await server.said('Slewlight is at')
    await server.kill('SIGTERM')
    const again = await slewlight(['salvage', '--archive', path]).done
    expect(again.code).toBe(6)
    expect(again.stderr).toContain('nothing to salvage')
    expect(readdirSync(folder).filter((name) => name.includes('.damaged-')).length).toBe(1)
  })
})
