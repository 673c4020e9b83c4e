import { mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join, resolve } from 'node:path'
import { describe, expect, it } from 'vitest'
import { parseOptions } from '#main/entry/options.ts'
import { openLog } from '#main/platform/log.ts'
import { simulationSchema } from '#shared/domain/rig.ts'

describe('options of the host', () => {
  it('are an archive where the system keeps data, the simulated rig and any port, when none are given', () => {
    const options = parseOptions([])
    expect(options).toMatchObject({
      rig: { kind: 'simulated', simulation: simulationSchema.parse({}) },
      port: 0,
      salvage: false,
      help: false,
    })
    expect(options.archive).toMatch(/slewlight.archive\.sqlite$/)
  })

  it('name archive, serial port and rate, or no rig', () => {
    expect(
      parseOptions(['--archive', 'a.sqlite', '--rig', '/dev/ttyACM3', '--baud=921600', '--port', '8123']),
    ).toMatchObject({
      archive: resolve('a.sqlite'),
      rig: { kind: 'serial', path: '/dev/ttyACM3', baudRate: 921_600 },
      port: 8123,
    })
    expect(parseOptions(['--rig', 'none', '--salvage'])).toMatchObject({ rig: null, salvage: true })
  })

  it('leave the options of the browser engine and the folder of the application alone', () => {
    const args = ['--no-sandbox', '--disable-gpu', '--user-data-dir=/x', '/folder/of/the/app', '--archive', '/y.sqlite']
    expect(parseOptions(args)).toMatchObject({ archive: resolve('/y.sqlite') })
  })

  it('are refused in words when they make no sense', () => {
    const wrong = [
      ['--port', '70000'],
      ['--port', 'x'],
      ['--rig', '/dev/ttyS0', '--baud', '3'],
    ]
    for (const args of wrong)
      expect(() => parseOptions(args)).toThrow(expect.objectContaining({ code: 'invalid-input' }))
  })
})

const at = () => new Date('2026-01-02T03:04:05Z')

describe('the log', () => {
  it('is one JSON object a line, and starts a new file once it has grown large', () => {
    const folder = mkdtempSync(join(tmpdir(), 'slewlight-log-'))
    const path = join(folder, 'deep', 'slewlight.log')
    openLog(join(folder, 'deep'), at).warn('Line.', { port: 3 })
    openLog(join(folder, 'deep'), at).error('Again.')
    const lines = readFileSync(path, 'utf8')
      .trimEnd()
      .split('\n')
      .map((line) => JSON.parse(line) as unknown)
    expect(lines).toEqual([
      { time: '2026-01-02T03:04:05.000Z', level: 'warn', message: 'Line.', port: 3 },
      { time: '2026-01-02T03:04:05.000Z', level: 'error', message: 'Again.' },
    ])
    writeFileSync(path, 'x'.repeat(6 * 1024 * 1024))
    openLog(join(folder, 'deep'), at).info('New.')
    expect(statSync(path).size).toBeLessThan(200)
    expect(statSync(`${path}.old`).size).toBe(6 * 1024 * 1024)
    rmSync(folder, { recursive: true })
  })
})
