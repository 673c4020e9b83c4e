import { fc } from '../support/fast-check.ts'
import { describe, expect, it } from 'vitest'
import { PANEL_IDS, SIM_SETTINGS, type PanelId, type SimSetting } from '#shared/domain/rig.ts'
import { gateAt, gateOf } from '#main/rig/simulated/panel/backlight.ts'
import { drivenSegment, lightOf, restingSegment } from '#main/rig/simulated/panel/cell.ts'
import { createDisplay, showLevel, withRefresh, type Display } from '#main/rig/simulated/panel/display.ts'
import { levelAt, lightAt } from './panel-at.ts'
import { frameClock, nextFrame } from '#main/rig/simulated/panel/frame-clock.ts'
import { boostedCode, codeOf, luminanceOf, PANELS, timeConstantOf } from '#main/rig/simulated/panel/panels.ts'
import { truthNumbers, truthOf } from './truth.ts'

const LEVELS = [0, 51, 102, 153, 204, 255]
const PAIRS = LEVELS.flatMap((from) => LEVELS.filter((to) => to !== from).map((to) => [from, to] as const))
const panelId = fc.constantFrom(...PANEL_IDS)
const level = fc.integer({ min: 0, max: 255 })

function displayOf(panel: PanelId, changes: Partial<Parameters<typeof createDisplay>[0]> = {}): Display {
  return createDisplay({
    panel,
    backlight: 'steady',
    pwmHz: 240,
    brightness: 0.6,
    refreshHz: 60,
    setting: 'Off',
    row: 0.5,
    level: 0,
    startS: 0,
    pwmPhase: 0,
    ...changes,
  })
}

function mean(values: readonly number[]): number {
  return values.reduce((a, b) => a + b, 0) / values.length
}

function matrix(panel: PanelId, setting: SimSetting, refreshHz: number) {
  return PAIRS.map(([from, to]) => ({
    from,
    to,
    ...truthNumbers(truthOf({ panel, setting, refreshHz, from, to })),
  }))
}

describe('tone curve', () => {
  it('is a power law over a black level, and its inverse finds the code again', () => {
    fc.assert(
      fc.property(panelId, fc.double({ min: 0, max: 300, noNaN: true }), (id, code) => {
        expect(codeOf(PANELS[id], luminanceOf(PANELS[id], code))).toBeCloseTo(code, 4)
      }),
    )
    expect(luminanceOf(PANELS.dusk, 0)).toBeCloseTo(1 / 3000, 12)
    expect(luminanceOf(PANELS.dusk, 255)).toBe(1)
    // (128 ÷ 255)^2.2 = 0.219519718 (computed elsewhere for a pure 2.2 curve)
    expect((luminanceOf(PANELS.swift, 128) - 1 / 950) / (1 - 1 / 950)).toBeCloseTo(0.219519718, 8)
  })
})

describe('frame clock', () => {
  it('finds the first frame after a time, strictly', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 10, max: 1000, noNaN: true }),
        fc.double({ min: 0, max: 1e5, noNaN: true }),
        (hz, time) => {
          const clock = frameClock(12.5, hz)
          const next = nextFrame(clock, time)
          expect(next).toBeGreaterThan(time)
          expect(next - time).toBeLessThanOrEqual(clock.periodS * (1 + 1e-6))
          const n = (next - 12.5) * hz
          expect(Math.abs(n - Math.round(n))).toBeLessThan(1e-3)
        },
      ),
    )
  })
})

describe('backlight', () => {
  it('has the mean its duty says and no stuck edge', () => {
    const gate = gateOf('pwm', frameClock(0, 60), { pwmHz: 317, brightness: 0.37, pwmStartS: 0.0011, glow: 0 })
    let t = 100
    let area = 0
    const end = 100 + 317 / 317
    while (t < end) {
      const { level: high, nextS } = gateAt(gate, t)
      expect(nextS).toBeGreaterThan(t)
      area += high * (Math.min(end, nextS) - t)
      t = nextS
    }
    expect(area).toBeCloseTo(0.37 + 0.63 * 0.2, 9)
  })

  it.each([0, 0.02])('strobes once a frame and leaves a glow of %d between', (glow) => {
    const gate = gateOf('strobe', frameClock(0, 120), { pwmHz: 240, brightness: 1, pwmStartS: 0, glow })
    let edges = 0
    for (let t = 0.5e-6; t < 1; edges++) {
      const { level: high, nextS } = gateAt(gate, t)
      expect([glow, 1]).toContain(high)
      t = nextS
    }
    expect(edges).toBe(2 * 120 + 1)
  })
})

describe('cell', () => {
  it('agrees with numerical integration of its differential equations', () => {
    const panel = PANELS.plain
    const first = drivenSegment(panel, restingSegment(panel, 51, 0), 230, 0)
    const second = drivenSegment(panel, first, 153, 0.006)
    let z = luminanceOf(panel, 51)
    let y = z
    const h = 1e-6
    for (let step = 0; step < 20_000; step++) {
      const segment = step * h < 0.006 - h / 2 ? first : second
      const slope = (a: number, b: number): [number, number] => [
        (segment.target - a) / segment.tau1,
        (a - b) / segment.tau2,
      ]
      const [z1, y1] = slope(z, y)
      const [z2, y2] = slope(z + (h / 2) * z1, y + (h / 2) * y1)
      z += h * z2
      y += h * y2
    }
    expect(lightOf(second, 0.02)).toBeCloseTo(y, 9)
  })

  it('is continuous where segments meet, whatever is shown when', () => {
    fc.assert(
      fc.property(
        panelId,
        fc.constantFrom(...SIM_SETTINGS),
        fc.array(fc.record({ level, gap: fc.double({ min: 0, max: 0.1, noNaN: true }) }), { maxLength: 30 }),
        (id, setting, changes) => {
          let display = displayOf(id, { setting })
          let time = 0.001
          for (const change of changes) {
            display = showLevel(display, change.level, time).display
            time += change.gap
          }
          display.segments.slice(1).forEach((segment, i) => {
            const before = display.segments[i]
            expect(segment.startS).toBeGreaterThan(before?.startS ?? Infinity)
            if (before) expect(lightOf(segment, segment.startS)).toBeCloseTo(lightOf(before, segment.startS), 12)
          })
          // Whatever the drive did, light stays between black and white, and ends at the last level.
          for (let t = 0; t < time; t += 0.003) {
            expect(lightAt(display.segments, t)).toBeGreaterThan(0)
            expect(lightAt(display.segments, t)).toBeLessThan(1 + 1e-12)
          }
          const last = changes[changes.length - 1]?.level ?? 0
          expect(lightAt(display.segments, time + 2)).toBeCloseTo(luminanceOf(display.panel, last), 9)
          expect(levelAt(display, time + 2)).toBe(last)
        },
      ),
      { numRuns: 60 },
    )
  })

  it('takes the last of several levels asked for within one frame', () => {
    const once = showLevel(displayOf('swift'), 200, 0.002).display
    const twice = showLevel(showLevel(displayOf('swift'), 90, 0.001).display, 200, 0.002).display
    expect(twice.segments).toEqual(once.segments)
    const back = showLevel(showLevel(displayOf('swift'), 90, 0.001).display, 0, 0.002).display
    expect(back.segments).toEqual(displayOf('swift').segments)
  })

  it('counts frames anew from a change of refresh rate', () => {
    const display = withRefresh(displayOf('swift'), 144, 0.01)
    expect(showLevel(display, 10, 0.0101).frameS).toBeCloseTo(0.01 + 1 / 144, 12)
  })
})

describe('overdrive', () => {
  it('has no boost when off, never leaves 0–255, and never boosts the wrong way', () => {
    fc.assert(
      fc.property(panelId, fc.constantFrom(...SIM_SETTINGS), level, level, (id, setting, from, to) => {
        const boosted = boostedCode(PANELS[id], setting, from, to)
        expect(boosted).toBeGreaterThanOrEqual(0)
        expect(boosted).toBeLessThanOrEqual(255)
        if (setting === 'Off' || from === to) expect(boosted).toBe(to)
        else if (to > from) expect(boosted).toBeGreaterThanOrEqual(to)
        else expect(boosted).toBeLessThanOrEqual(to)
      }),
    )
  })

  it('lasts exactly one frame at any refresh rate', () => {
    for (const refreshHz of [24, 60, 144, 240, 540, 1000]) {
      const { display } = showLevel(displayOf('plain', { setting: 'Extreme', refreshHz, level: 102 }), 153, 0.0001)
      expect(display.segments).toHaveLength(3)
      const [, boost, hold] = display.segments
      expect((hold?.startS ?? 0) - (boost?.startS ?? 0)).toBeCloseTo(1 / refreshHz, 12)
      expect(hold?.drive).toBe(153)
    }
  })

  it('overshoots more as the refresh rate falls', () => {
    for (const panel of PANEL_IDS)
      for (const setting of ['Gentle', 'Strong', 'Extreme'] as const) {
        const byRefresh = [360, 240, 144, 100, 60, 30].map((hz) =>
          matrix(panel, setting, hz).map((n) => n.overshootPct),
        )
        byRefresh.slice(1).forEach((slower, i) => {
          slower.forEach((pct, cell) => expect(pct).toBeGreaterThanOrEqual((byRefresh[i]?.[cell] ?? 0) - 1e-9))
        })
        expect(mean(byRefresh[5] ?? [])).toBeGreaterThan(mean(byRefresh[0] ?? []) + 0.5)
      }
  })

  it('cannot overshoot white or black', () => {
    for (const panel of PANEL_IDS)
      for (const n of matrix(panel, 'Extreme', 60).filter(({ to }) => to === 0 || to === 255))
        expect(n.overshootPct).toBeLessThan(1e-9)
  })
})

describe('matrices are believable', () => {
  it('Off never overshoots and rises and falls without turning back', () => {
    for (const panel of PANEL_IDS)
      for (const [from, to] of PAIRS) {
        const truth = truthOf({ panel, setting: 'Off', refreshHz: 60, from, to })
        let last = truth.light(0)
        for (let t = 0.0002; t < 0.2; t += 0.0002) {
          const next = truth.light(t)
          expect((next - last) * Math.sign(to - from)).toBeGreaterThanOrEqual(-1e-15)
          last = next
        }
        expect(last).toBeCloseTo(truth.end, 3)
      }
  })

  it('a stronger setting is faster and overshoots more', () => {
    for (const panel of PANEL_IDS) {
      const sweeps = SIM_SETTINGS.map((setting) => matrix(panel, setting, 60))
      const durations = sweeps.map((cells) => mean(cells.map((n) => n.durationS)))
      const overshoots = sweeps.map((cells) => mean(cells.map((n) => n.overshootPct)))
      for (let i = 1; i < durations.length; i++) {
        expect(durations[i]).toBeLessThan(durations[i - 1] ?? 0)
        expect(overshoots[i]).toBeGreaterThan(overshoots[i - 1] ?? 0)
      }
      expect(overshoots[0]).toBe(0)
      expect(overshoots[1]).toBeLessThan(5)
      expect(overshoots[3]).toBeGreaterThan(20)
    }
  })

  it('dusk needs several frames for dark steps and far fewer for bright ones', () => {
    const cells = matrix('dusk', 'Off', 144)
    const dark = cells.filter(({ from, to }) => to > from && to <= 102)
    const bright = cells.filter(({ from, to }) => from >= 153 && to >= 153)
    expect(mean(dark.map((n) => n.durationS)) * 144).toBeGreaterThan(4)
    expect(mean(bright.map((n) => n.durationS)) * 144).toBeLessThan(2)
    expect(Math.max(...cells.map((n) => n.durationS))).toBeLessThan(0.06)
  })

  it('rise and fall differ, and swift is faster than plain', () => {
    for (const id of PANEL_IDS)
      expect(timeConstantOf(PANELS[id], 51, 204)).not.toBe(timeConstantOf(PANELS[id], 204, 51))
    const swift = mean(matrix('swift', 'Off', 144).map((n) => n.durationS))
    const plain = mean(matrix('plain', 'Off', 144).map((n) => n.durationS))
    expect(swift * 1.5).toBeLessThan(plain)
  })
})
