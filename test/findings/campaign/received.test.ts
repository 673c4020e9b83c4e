import { expect, it } from 'vitest'
import { decodeFrame, encodeFrame } from '#shared/contract/wire.ts'
import { u95Of } from '#shared/findings/campaign/estimate.ts'
import { FIGURE_IDS, type MeasuredPoint } from '#shared/findings/campaign/figures.ts'
import { receivedPoints } from '#shared/findings/campaign/points.ts'

it('an uncertainty known well stays known well across the wire', () => {
  const estimate = { value: 55, u: 7.74, dof: Infinity, shared: 0 }
  const figures = Object.fromEntries(FIGURE_IDS.map((id) => [id, null])) as MeasuredPoint['figures']
  const sent: MeasuredPoint[] = [
    { sweepId: 1, setting: 'Gentle', refreshHz: 60, figures: { ...figures, in_window_share: estimate } },
  ]
  const [point] = receivedPoints(decodeFrame(encodeFrame(sent)) as MeasuredPoint[])
  const arrived = point?.figures.in_window_share
  expect(arrived).toEqual(estimate)
  // 1.959964 is the two-sided 95 % point of the normal distribution (standard tables).
  expect(u95Of(arrived ?? estimate)).toBeCloseTo(1.959964 * 7.74, 4)
  expect(point?.figures.duration_mean).toBeNull()
})
