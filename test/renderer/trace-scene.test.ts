import { describe, expect, it } from 'vitest'
import type { Landmarks } from '#shared/domain/result.ts'
import { traceScene, type TraceSource } from '../../src-renderer/plot/trace-scene.ts'

/** A rise from 1 V to 3 V at 0.1 s in a record of 0.4 s: the numbers are made up, the geometry is what counts. */
const LANDMARKS: Landmarks = {
  beforeWindow: [0, 0.08],
  afterWindow: [0.3, 0.4],
  beforeV: 1,
  afterV: 3,
  onsetS: 0.1,
  crossLowS: 0.101,
  crossMidS: 0.103,
  crossHighS: 0.106,
  arrivalAtS: 0.108,
  settledAtS: 0.12,
  overshootAtS: 0.11,
  overshootV: 3.2,
  undershootAtS: null,
  undershootV: null,
  startBandV: [0.94, 1.06],
  endBandV: [2.94, 3.06],
  referenceLowV: 1.2,
  referenceHighV: 2.8,
}

function source(change: Partial<TraceSource> = {}): TraceSource {
  return {
    envelope: {
      startS: 0,
      stepS: 0.1,
      min: Float32Array.of(0.9, 1, 2.9, 2.9),
      max: Float32Array.of(1.1, 3.2, 3.1, 3.1),
    },
    landmarks: LANDMARKS,
    refreshHz: 50,
    rangeV: 5,
    triggerS: 0.09,
    from: 51,
    to: 204,
    referencePercent: 10,
    overshootPct: 10,
    undershootPct: null,
    ...change,
  }
}

describe('trace scene', () => {
  it('counts time from onset and puts columns at their centres', () => {
    const scene = traceScene(source())
    expect(scene.origin).toBe('onset')
    expect([...scene.x].map((ms) => Math.round(ms))).toEqual([-50, 50, 150, 250])
    expect(scene.recordMs.map((ms) => Math.round(ms))).toEqual([-100, 300])
  })

  it('puts plain samples at their own instants', () => {
    const samples = Float32Array.of(1, 1, 3, 3)
    const scene = traceScene(source({ envelope: { startS: 0, stepS: 0.1, min: samples, max: samples.slice() } }))
    expect([...scene.x].map((ms) => Math.round(ms))).toEqual([-100, 0, 100, 200])
  })

  it('falls back to the trigger, then to the start of the record', () => {
    const blind = { ...LANDMARKS, onsetS: null }
    expect(traceScene(source({ landmarks: blind })).origin).toBe('trigger')
    expect(traceScene(source({ landmarks: blind })).x[0]).toBeCloseTo(-40, 6)
    const bare = traceScene(source({ landmarks: null, triggerS: null }))
    expect(bare.origin).toBe('start of record')
    expect(bare.edgeMs).toEqual(bare.recordMs)
    expect(bare.window).toBeNull()
    expect([bare.bands, bare.levels, bare.instants, bare.points].flat()).toEqual([])
  })

  it('shades one refresh period from onset, and none when the refresh is unknown', () => {
    expect(traceScene(source()).window).toEqual({ fromMs: 0, toMs: 20 })
    expect(traceScene(source({ refreshHz: 0 })).window).toBeNull()
  })

  it('keeps its axis still under a given origin while the onset and what hangs on it move', () => {
    const pinned = { originS: 0.05, origin: 'onset', edgeMs: [-5, 40] } as const
    const early = traceScene(source({ pinned }))
    const late = traceScene(source({ pinned, landmarks: { ...LANDMARKS, onsetS: (LANDMARKS.onsetS ?? 0) + 0.001 } }))
    expect(late.x).toEqual(early.x)
    expect((late.instants[0]?.ms ?? 0) - (early.instants[0]?.ms ?? 0)).toBeCloseTo(1, 6)
    expect((late.window?.fromMs ?? 0) - (early.window?.fromMs ?? 0)).toBeCloseTo(1, 6)
  })

  it('marks crossings at their reference voltages with their times', () => {
    const { points } = traceScene(source())
    const [low, mid, high, over] = points
    expect(low).toMatchObject({ kind: 'crossing', volts: 1.2, label: '10 % 1.00 ms' })
    expect(mid).toMatchObject({ volts: 2, label: '50 % 3.00 ms' })
    expect(high).toMatchObject({ volts: 2.8, label: '90 % 6.00 ms' })
    expect(over).toMatchObject({ kind: 'overshoot', volts: 3.2, label: 'overshoot 10.0 %' })
    expect(over?.ms).toBeCloseTo(10, 6)
    expect(points).toHaveLength(4)
  })

  it('names code bands instead of percent when the recipe uses them', () => {
    const { points } = traceScene(source({ referencePercent: null }))
    expect(points[0]?.label).toMatch(/^leaves band \d/)
    expect(points[2]?.label).toMatch(/^enters band \d/)
  })

  it('does not mark an overshoot of nothing', () => {
    const none = traceScene(source({ overshootPct: 0 }))
    expect(none.points.some(({ kind }) => kind === 'overshoot')).toBe(false)
  })

  it('runs the start band up to onset and the end band from it', () => {
    const [start, end] = traceScene(source()).bands
    expect(start).toMatchObject({ kind: 'start', toMs: 0, lowV: 0.94, highV: 1.06 })
    expect(end).toMatchObject({ kind: 'end', fromMs: 0, lowV: 2.94, highV: 3.06 })
  })

  it('keeps curve, bands and marks inside the volts axis, also for a flat line', () => {
    const scene = traceScene(source())
    expect(scene.voltsRange[0]).toBeLessThan(0.9)
    expect(scene.voltsRange[1]).toBeGreaterThan(3.2)
    const flat = Float32Array.of(2, 2)
    const flatScene = traceScene(source({ landmarks: null, envelope: { startS: 0, stepS: 0.1, min: flat, max: flat } }))
    expect(flatScene.voltsRange[1] - flatScene.voltsRange[0]).toBeCloseTo(0.1, 9)
    const empty = traceScene(
      source({
        landmarks: null,
        envelope: { startS: 0, stepS: 1, min: new Float32Array(0), max: new Float32Array(0) },
      }),
    )
    expect(empty.voltsRange).toEqual([0, 5])
  })

  it('views two frames or everything up to settling, clipped to the record', () => {
    const scene = traceScene(source())
    expect(scene.edgeMs[0]).toBeCloseTo(-10, 6)
    expect(scene.edgeMs[1]).toBeCloseTo(40, 6)
    const slow = traceScene(source({ landmarks: { ...LANDMARKS, settledAtS: 0.2 } }))
    expect(slow.edgeMs[1]).toBeCloseTo(125, 6)
    const endless = traceScene(source({ landmarks: { ...LANDMARKS, settledAtS: 0.39 } }))
    expect(endless.edgeMs[1]).toBeCloseTo(300, 6)
  })
})
