import { describe, expect, test } from 'vitest'
import { pixelCurve, type PlotArea } from '../../src-renderer/plot/pixel-curve.ts'

const AREA: PlotArea = { left: 50, top: 10, width: 100, height: 200, xMin: 0, xMax: 10, yMin: 0, yMax: 2 }
const times = (count: number, stepMs: number, fromMs = 0) =>
  Float64Array.from({ length: count }, (_, i) => fromMs + i * stepMs)

describe('a curve in pixels', () => {
  test('points further apart than a pixel stay where they are', () => {
    const values = new Float32Array([0, 1, 2])
    const pixels = pixelCurve({ x: times(3, 5), min: values, max: values }, AREA)
    expect(pixels.length).toBe(3)
    expect([...pixels.x.subarray(0, 3)]).toEqual([50, 100, 150])
    expect([...pixels.upper.subarray(0, 3)]).toEqual([210, 110, 10])
    expect([...pixels.lower.subarray(0, 3)]).toEqual([210, 110, 10])
    expect(pixels.spread).toBe(0)
  })

  test('columns of one pixel become one that keeps every extreme', () => {
    const count = 10_000
    const min = Float32Array.from({ length: count }, (_, i) => 1 - (i === 4321 ? 0.75 : 0.25))
    const max = Float32Array.from({ length: count }, (_, i) => 1 + (i === 7654 ? 0.75 : 0.25))
    const pixels = pixelCurve({ x: times(count, 0.001), min, max }, AREA)
    expect(pixels.length).toBeLessThanOrEqual(101)
    expect(Math.min(...pixels.upper.subarray(0, pixels.length))).toBeCloseTo(10 + 0.25 * 100, 4)
    expect(Math.max(...pixels.lower.subarray(0, pixels.length))).toBeCloseTo(10 + 1.75 * 100, 4)
    expect(pixels.spread).toBeCloseTo(100, 4)
  })

  test('of a longer record only what is in view is taken, and a point beyond either border', () => {
    const values = new Float32Array(101)
    const pixels = pixelCurve({ x: times(101, 1, -50), min: values, max: values }, AREA)
    expect([...pixels.x.subarray(0, pixels.length)].map((x) => (x - 50) / 10)).toEqual([
      0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11,
    ])
    const between = pixelCurve({ x: times(101, 1, -50.5), min: values, max: values }, AREA)
    expect(between.x[0]).toBeLessThan(50)
    expect(between.x[between.length - 1]).toBeGreaterThan(150)
  })

  test('a curve of no points gives nothing, one elsewhere its nearest point', () => {
    const none = new Float32Array(0)
    expect(pixelCurve({ x: times(0, 1), min: none, max: none }, AREA).length).toBe(0)
    const values = new Float32Array(5)
    expect(pixelCurve({ x: times(5, 1, 100), min: values, max: values }, AREA).length).toBe(1)
  })
})
