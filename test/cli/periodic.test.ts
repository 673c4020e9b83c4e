import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { PERIODIC_IDS } from '#shared/measure/periodic.ts'
import { gaussian } from '../reference/waves.ts'
import { run } from './in-process.ts'

const folder = mkdtempSync(join(tmpdir(), 'slewlight-cli-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))
const save = (name: string, volts: (t: number) => number): string => {
  const path = join(folder, name)
  const rows = Array.from({ length: 20_000 }, (_, i) => `${i / 20_000},${volts(i / 20_000)}`)
  writeFileSync(path, ['time_s,voltage_v', ...rows].join('\n'))
  return path
}

describe('measure --periodic', () => {
  const pwm = save('white.csv', (t) => 0.1 + ((t * 200 + 1e-6) % 1 < 0.3 ? 1 : 0.2))

  it('reads flicker; the keys are the readings', async () => {
    const { code, out } = await run(['measure', pwm, '--periodic', '--dark', '0.1', '--json'])
    expect(code).toBe(0)
    const answer = JSON.parse(out)
    expect(Object.keys(answer.result)).toEqual(PERIODIC_IDS)
    // Square 0.2/1 of duty 0.3 (closed forms).
    expect(answer.result.fundamental_hz).toBeCloseTo(200, 4)
    expect(answer.result.percent_flicker_pct).toBeCloseTo(66.6667, 3)
    expect(answer.result.flicker_index).toBeCloseTo(0.381818, 5)
    expect(answer.reasons.pst_lm).toContain('Needs 60 s')
    expect(answer.regions[0].note).toContain('not a safety verdict')
    expect(answer.components[0]).toMatchObject({ frequency_hz: expect.closeTo(200, 4) })
    expect(answer.cycles).toBe(200)
  })

  it('says in words what has no value and why', async () => {
    const { code, out } = await run(['measure', pwm, '--periodic'])
    expect(code).toBe(0)
    expect(out).toContain('dark level not given')
    expect(out).toContain('The dark level was not measured')
    expect(out).toContain('Needs 60 s')
  })

  it('steady light is nothing periodic: exit code 1 and a bound', async () => {
    const noise = gaussian(1)
    const steady = save('steady.csv', () => 1 + 1e-3 * noise())
    const { code, out } = await run(['measure', steady, '--periodic', '--json'])
    expect(code).toBe(1)
    expect(JSON.parse(out).reasons.percent_flicker_pct).toContain('nothing periodic above')
  })

  it('refuses a dark level without it', async () => {
    expect(await run(['measure', pwm, '--dark', '0.1'])).toMatchObject({ code: 2, out: '' })
  })
})
