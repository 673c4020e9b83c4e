import { spawnSync } from 'node:child_process'
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { fc } from '../support/fast-check.ts'
import { afterEach, describe, expect, it } from 'vitest'
import { createClock } from '#main/platform/clock.ts'
import { createRig } from '#main/rig/api/rig-manager.ts'
import { openEye, parseEye } from '#main/rig/simulated/eye/xvfb.ts'
import { parseXwdHeader, rowsOf } from '#main/rig/simulated/eye/xwd.ts'
import { luminanceOf, PANELS } from '#main/rig/simulated/panel/panels.ts'
import { openSerial } from '#main/rig/transport/serial.ts'
import { createControlStimulus } from '../support/control-stimulus.ts'
import { AppError } from '#shared/domain/errors.ts'
import { hasProgram, start, startRigSim, temporaryFolder } from './processes.ts'
import { SILENT } from './sweep.ts'

const MISSING = ['Xvfb', 'xsetroot', 'socat'].filter((name) => !hasProgram(name))
if (MISSING.length > 0)
  process.stdout.write(`Tests of the eye on a real X screen are skipped: ${MISSING.join(', ')} not installed.\n`)

const ends: (() => unknown)[] = []
afterEach(async () => {
  for (let end = ends.pop(); end; end = ends.pop()) await end()
})

/** Header of a 320 × 240 screen as a real Xvfb (21.1) wrote it, and as a most-significant-first machine would. */
const WORDS = [
  160, 7, 2, 24, 320, 240, 0, 0, 32, 0, 32, 32, 1280, 4, 0xff0000, 0xff00, 0xff, 8, 256, 256, 320, 240, 0, 0, 0,
]

function headerOf(changes: Readonly<Record<number, number>> = {}): Uint8Array {
  const bytes = new Uint8Array(100)
  const view = new DataView(bytes.buffer)
  WORDS.forEach((word, i) => view.setUint32(4 * i, changes[i] ?? word))
  return bytes
}

describe('screen file', () => {
  it('reads size, offset and colour places', () => {
    expect(parseXwdHeader(headerOf())).toEqual({
      width: 320,
      height: 240,
      offset: 160 + 256 * 12,
      bytesPerLine: 1280,
      channels: [2, 1, 0],
    })
    expect(parseXwdHeader(headerOf({ 7: 1 })).channels).toEqual([1, 2, 3])
  })

  it('refuses anything else with a reason, and never crashes', () => {
    for (const changes of [
      { 1: 6 },
      { 2: 1 },
      { 11: 16 },
      { 4: 0 },
      { 12: 100 },
      { 14: 0xf800 },
      { 0: 50 },
      { 19: 1e8 },
    ])
      expect(() => parseXwdHeader(headerOf(changes))).toThrow(AppError)
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 200 }), (bytes) => {
        expect(() => parseXwdHeader(bytes)).toThrow(AppError)
      }),
    )
  })

  it('places rows within the patch and refuses one beside the screen', () => {
    const layout = parseXwdHeader(headerOf())
    const { positions, bytes } = rowsOf(layout, { x: 10, y: 20, size: 40 })
    expect(bytes).toBe(160)
    expect(positions).toHaveLength(8)
    for (const position of positions) {
      const pixel = (position - layout.offset) / 4
      expect(pixel % 320).toBe(10)
      expect(Math.floor(pixel / 320)).toBeGreaterThanOrEqual(20)
      expect(Math.floor(pixel / 320)).toBeLessThan(60)
    }
    for (const patch of [
      { x: 300, y: 0, size: 21 },
      { x: 0, y: 239, size: 2 },
      { x: 0, y: 0, size: 0 },
    ])
      expect(() => rowsOf(layout, patch)).toThrow(AppError)
  })

  it('understands where to look', () => {
    expect(parseEye('xvfb:/tmp/a,b/screen,10,20,30')).toEqual({ path: '/tmp/a,b/screen', x: 10, y: 20, size: 30 })
    for (const text of ['', 'xvfb:', 'xvfb:/f,1,2', 'x11:/f,1,2,3', 'xvfb:/f,1,-2,3'])
      expect(() => parseEye(text)).toThrow(AppError)
  })

  it('says when there is no screen or it is none', async () => {
    const clock = createClock()
    await expect(openEye({ path: '/nonexistent/screen', x: 0, y: 0, size: 1 }, clock)).rejects.toMatchObject({
      code: 'not-found',
    })
    const folder = temporaryFolder()
    ends.push(() => folder.remove())
    const short = join(folder.path, 'short')
    writeFileSync(short, headerOf())
    await expect(openEye({ path: short, x: 0, y: 0, size: 1 }, clock)).rejects.toMatchObject({ code: 'invalid-input' })
  })
})

interface Screen {
  readonly file: string
  readonly paint: (code: number) => void
}

async function screen(display: string): Promise<Screen> {
  const folder = temporaryFolder()
  ends.push(() => folder.remove())
  // Without -noreset the server forgets its background when the client that set it leaves.
  const server = start('Xvfb', [
    display,
    '-screen',
    '0',
    '320x240x24',
    '-fbdir',
    folder.path,
    '-noreset',
    '-nolisten',
    'tcp',
  ])
  ends.push(() => server.stop())
  const env = { ...process.env, DISPLAY: display }
  const paint = (code: number): boolean => {
    const hex = code.toString(16).padStart(2, '0')
    return spawnSync('xsetroot', ['-solid', `#${hex}${hex}${hex}`], { env }).status === 0
  }
  const deadline = performance.now() + 15_000
  while (!paint(0)) {
    if (performance.now() > deadline) throw new Error(`Xvfb does not start: ${server.output()}`)
    await new Promise((resolve) => {
      setTimeout(resolve, 50)
    })
  }
  return {
    file: join(folder.path, 'Xvfb_screen0'),
    paint(code) {
      if (!paint(code)) throw new Error('xsetroot failed.')
    },
  }
}

const DISPLAY = `:${200 + (process.pid % 300)}`

/** Volts of a settled level on the panel the test uses. */
function plain(code: number): number {
  return 0.02 + 3.98 * luminanceOf(PANELS.plain, code)
}

describe.skipIf(MISSING.length > 0)('on a real X screen', () => {
  it('sees every change with its time', async () => {
    const clock = createClock()
    const { file, paint } = await screen(DISPLAY)
    const eye = await openEye({ path: file, x: 140, y: 100, size: 40 }, clock)
    ends.push(() => eye.close())
    expect(eye.look().changes.map((change) => change.level)).toEqual([0])
    const looksBefore = eye.looks
    const startedAt = clock.now()
    for (const code of [255, 51, 128]) {
      const before = clock.now()
      paint(code)
      const seen: { level: number; timeS: number }[] = []
      await expect
        .poll(() => {
          seen.push(...eye.look().changes)
          return seen.at(-1)?.level
        })
        .toBe(code)
      const { untilS } = eye.look()
      expect(seen.at(-1)?.timeS).toBeGreaterThan(before)
      // It never reports from the future.
      expect(untilS).toBeGreaterThanOrEqual(seen.at(-1)?.timeS ?? Infinity)
      expect(untilS).toBeLessThanOrEqual(clock.now())
    }
    const rate = (eye.looks - looksBefore) / (clock.now() - startedAt)
    process.stdout.write(`The eye looks ${rate.toFixed(0)} times a second.\n`)
  })

  it('the rig triggers on what is painted and records the panel behind it', async () => {
    const { file, paint } = await screen(DISPLAY)
    const folder = temporaryFolder()
    ends.push(() => folder.remove())
    const ptyPath = join(folder.path, 'rig')
    const controlPath = join(folder.path, 'control')
    const eye = `xvfb:${file},140,100,40`
    const sim = startRigSim({
      ptyPath,
      controlPath,
      eye,
      refreshHz: 60,
      simulation: { panel: 'plain', noiseV: 0.0005 },
    })
    ends.push(() => sim.stop())
    await sim.says(`on ${ptyPath}`)
    const clock = createClock()
    const rig = createRig({
      clock,
      log: SILENT,
      openSerial,
      listSerialPorts: async () => [],
      openSimulated: () => Promise.reject(new Error('There is none here.')),
    })
    ends.push(() => rig.close())
    await rig.connect({ kind: 'serial', path: ptyPath, baudRate: 921_600 })
    const stimulus = createControlStimulus(controlPath)
    ends.push(() => stimulus.close())
    await expect(stimulus.show(20)).rejects.toMatchObject({ code: 'conflict' })

    paint(51)
    await clock.sleep(0.3)
    const digitizer = rig.digitizer()
    await digitizer.configure({
      sampleRateHz: 20_000,
      points: 6000,
      preTriggerPoints: 1000,
      rangeV: 5,
      trigger: { source: 'level', levelV: 1, slope: 'rising' },
      transfer: 'int16',
    })
    await digitizer.arm()
    paint(204)
    const { trace, triggerIndex } = await digitizer.read()
    const at = (i: number): number => (trace.samples[i] ?? Number.NaN) * trace.scaleV + trace.offsetV
    expect(triggerIndex).toBe(1000)
    expect(Math.abs(at(0) - plain(51))).toBeLessThan(0.005)
    expect(Math.abs(at(1000) - 1)).toBeLessThan(0.03)
    expect(Math.abs(at(5999) - plain(204))).toBeLessThan(0.005)
  })
})
