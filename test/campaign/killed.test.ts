/** SIGKILL in the middle of a campaign; `npm run killed` does it thirty times. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, it } from 'vitest'
import { runKilled } from './killed.ts'

const folder = mkdtempSync(join(tmpdir(), 'slewlight-killed-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

it('a campaign whose process is killed twice ends with every capture once', async () => {
  const { captures, storedAtKill, problems } = await runKilled(folder, {
    settings: ['Off', 'Strong'],
    refreshHz: [60],
    repeats: 4,
    speed: 15,
    kills: 2,
    atMostMs: 200,
    seed: 8,
  })
  expect(problems).toEqual([])
  expect(captures).toBe(2 * 6 * 4)
  expect(storedAtKill).toHaveLength(2)
  expect(Math.min(...storedAtKill)).toBeGreaterThan(0)
})
