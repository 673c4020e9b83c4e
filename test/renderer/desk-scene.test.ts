import { describe, expect, it } from 'vitest'
import type { CaptureInfo } from '#shared/domain/capture.ts'
import { DEFAULT_RECIPE } from '#shared/domain/recipe.ts'
import type { Envelope, TraceView } from '#shared/domain/views.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { envelopeOf } from '#shared/signal/envelope.ts'
import { blurConstruction } from '../../src-renderer/plot/blur-construction.ts'
import { deskScene, framesOf, splice } from '../../src-renderer/plot/desk-scene.ts'
import { traceScene } from '../../src-renderer/plot/trace-scene.ts'

const envelope = (startS: number, stepS: number, values: readonly number[]): Envelope => ({
  startS,
  stepS,
  min: Float32Array.from(values),
  max: Float32Array.from(values),
})

describe('detail in place of coarser columns', () => {
  const whole = envelope(0, 1, [0, 1, 2, 3, 4, 5])

  it('stands within its span, and the whole outside it', () => {
    const { x, min } = splice(whole, envelope(2, 0.5, [20, 21, 22]), 0)
    expect([...x]).toEqual([0, 1000, 2000, 2500, 3000, 4000, 5000])
    expect([...min]).toEqual([0, 1, 20, 21, 22, 4, 5])
  })

  it('keeps times ascending at both ends of the record', () => {
    for (const detail of [envelope(0, 0.25, [9, 9, 9]), envelope(4.75, 0.25, [9, 9]), envelope(2.1, 0.1, [9])]) {
      const { x, min, max } = splice(whole, detail, 1.5)
      expect(x.length).toBe(min.length)
      expect(x.length).toBe(max.length)
      for (let i = 1; i < x.length; i += 1) expect(x[i]).toBeGreaterThan(x[i - 1] as number)
    }
  })

  it('is left out when it is empty or no finer', () => {
    expect([...splice(whole, envelope(0, 1, [7, 7]), 0).min]).toEqual([0, 1, 2, 3, 4, 5])
    expect([...splice(whole, envelope(0, 0.1, []), 0).min]).toEqual([0, 1, 2, 3, 4, 5])
    expect([...splice(whole, null, 0).min]).toEqual([0, 1, 2, 3, 4, 5])
  })
})

it('counts refresh frames from onset, before it as well', () => {
  expect(framesOf([-25, 45], 50)).toEqual([
    { ms: -20, frame: -1 },
    { ms: 0, frame: 0 },
    { ms: 20, frame: 1 },
    { ms: 40, frame: 2 },
  ])
  expect(framesOf([-25, 45], 0)).toEqual([])
  expect(framesOf([0, 1e6], 1000).length).toBeLessThan(500)
})

/** First-order rise from 1 V to 3 V with a time constant of 5 ms at 0.1 s, 20 kHz: invented. */
function rise() {
  const rate = 20_000
  const samples = Float32Array.from({ length: 8000 }, (_, i) => {
    const t = i / rate - 0.1
    return t < 0 ? 1 : 3 - 2 * Math.exp(-t / 0.005)
  })
  const trace = { format: 'real32', samples, sampleRateHz: rate, scaleV: 1, offsetV: 0, rangeV: 5 } as const
  const result = measureCapture({
    trace,
    triggerIndex: 2000,
    from: 51,
    to: 204,
    refreshHz: 60,
    ladder: null,
    edgeAtTrigger: true,
    recipe: DEFAULT_RECIPE,
  })
  return { trace, result }
}

describe('blur edge as a drawing', () => {
  it('is as wide as the number that was measured', () => {
    const { trace, result } = rise()
    const drawn = blurConstruction(envelopeOf(trace, 0, 0.4, 8192), result.landmarks, 60)
    const width = result.values.blur_edge_s ?? 0
    expect(width).toBeGreaterThan(0.01)
    expect(Math.abs((drawn?.endS ?? 0) - (drawn?.startS ?? 0) - width)).toBeLessThan(0.002 * width)
    expect(drawn?.startV).toBeCloseTo(1.2, 2)
    expect(drawn?.endV).toBeCloseTo(2.8, 2)
  })

  it('is within a column of it where columns are wider than samples', () => {
    const { trace, result } = rise()
    const coarse = envelopeOf(trace, 0, 0.4, 1000)
    const drawn = blurConstruction(coarse, result.landmarks, 60)
    const width = result.values.blur_edge_s ?? 0
    expect(Math.abs((drawn?.endS ?? 0) - (drawn?.startS ?? 0) - width)).toBeLessThan(coarse.stepS)
  })

  it('is not drawn without a refresh rate or a crossing', () => {
    const { trace, result } = rise()
    const whole = envelopeOf(trace, 0, 0.4, 8192)
    expect(blurConstruction(whole, result.landmarks, 0)).toBeNull()
    expect(blurConstruction(whole, { ...result.landmarks, crossMidS: null }, 60)).toBeNull()
  })
})

describe('scene of the desk', () => {
  const { trace, result } = rise()
  const info = { triggerIndex: 2000, sampleRateHz: 20_000 } as unknown as CaptureInfo
  const raw = envelopeOf(trace, 0, 0.4, 8192)
  const whole: TraceView = { info, raw, conditioned: null, refreshHz: 60, rangeV: 5 }
  const source = {
    envelope: raw,
    landmarks: result.landmarks,
    refreshHz: 60,
    rangeV: 5,
    triggerS: 0.1,
    from: 51,
    to: 204,
    referencePercent: 10,
    overshootPct: 0,
    undershootPct: 0,
  }
  const base = traceScene(source)
  const parts = {
    base,
    whole,
    detail: null,
    landmarks: result.landmarks,
    overlay: null,
    other: null,
    blur: null,
    blurLabel: '',
    showRaw: true,
    showFrames: true,
    showCursors: false,
    showWindows: true,
    shaded: { span: [0.1, 0.12] as const, label: 'invented' },
  }

  it('puts windows and shaded samples in ms from onset', () => {
    const scene = deskScene(parts)
    expect(scene.windows.map(({ kind }) => kind)).toEqual(['before', 'after'])
    expect(scene.windows[1]?.toMs).toBeCloseTo(base.recordMs[1], 1)
    expect((scene.shaded?.toMs ?? 0) - (scene.shaded?.fromMs ?? 0)).toBeCloseTo(20, 6)
    expect(scene.frames.length).toBeGreaterThan(10)
  })

  it('shows raw samples only beside conditioned ones', () => {
    expect(deskScene(parts).raw).toBeNull()
    const conditioned = { ...whole, conditioned: raw }
    expect(deskScene({ ...parts, whole: conditioned }).raw).not.toBeNull()
    expect(deskScene({ ...parts, whole: conditioned, showRaw: false }).raw).toBeNull()
  })

  it('lays another capture over at the 50 % crossings of both, or at the triggers where one has none', () => {
    const crossing = (result.landmarks.crossMidS ?? 0) - base.originS
    const later = { ...result.landmarks, crossMidS: (result.landmarks.crossMidS ?? 0) - 0.05 }
    // The other one crosses 50 ms earlier in its record: it is drawn 50 ms later than this one's samples.
    const aligned = deskScene({ ...parts, other: { trace: whole, landmarks: later } })
    expect((aligned.other?.x[0] ?? 0) - (aligned.curve.x[0] ?? 0)).toBeCloseTo(50, 6)
    expect(crossing).toBeGreaterThan(0)
    const earlier = { ...whole, info: { ...info, triggerIndex: 1000 } }
    const triggered = deskScene({ ...parts, other: { trace: earlier, landmarks: null } })
    expect((triggered.other?.x[0] ?? 0) - (triggered.curve.x[0] ?? 0)).toBeCloseTo(50, 6)
    expect(deskScene(parts).other).toBeNull()
  })

  it('holds the origin while marks move', () => {
    const landmarks = { ...result.landmarks, onsetS: (result.landmarks.onsetS ?? 0) + 0.01 }
    expect(traceScene({ ...source, landmarks }).originS).not.toBeCloseTo(base.originS, 4)
    expect(traceScene({ ...source, landmarks, pinned: base }).originS).toBe(base.originS)
    expect(traceScene({ ...source, landmarks, pinned: base }).edgeMs).toEqual(base.edgeMs)
  })

  it('does not look far for an excursion that is only noise', () => {
    const afterV = result.landmarks.afterV ?? 0
    const noise = { ...result.landmarks, overshootAtS: 0.39, overshootV: afterV + 0.001 }
    expect(traceScene({ ...source, landmarks: noise }).edgeMs[1]).toBeLessThan(60)
    const real = { ...noise, overshootV: afterV + 1 }
    expect(traceScene({ ...source, landmarks: real }).edgeMs[1]).toBeGreaterThan(200)
  })
})
