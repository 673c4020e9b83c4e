import { describe, expect, it } from 'vitest'
import { framesOf } from '../../e2e/frames.ts'

const MAIN = { pid: 1, tid: 1 }
const ms = (value: number): number => Math.round(value * 1000)
const name = { ...MAIN, name: 'thread_name', ph: 'M', ts: 0, args: { name: 'CrRendererMain' } }
const frame = (at: number) => ({ ...MAIN, name: 'BeginMainThreadFrame', ph: 'I', ts: ms(at) })
const task = (at: number, lasts: number) => ({
  ...MAIN,
  name: 'RunTask',
  ph: 'X',
  ts: ms(at),
  dur: ms(lasts),
  tdur: ms(lasts / 2),
})

/** Frames of 60 Hz at 0, 1/60, 2/60 … s. */
const at = (n: number): number => (n * 1000) / 60

describe('frames of a trace', () => {
  it('have the work between their start and the next start, inner tasks counted once', () => {
    const frames = framesOf([name, frame(0), task(1, 5), task(2, 3), task(10, 2), frame(20), task(21, 30), frame(60)])
    expect(frames.workMs).toEqual([7, 30])
    expect(frames.cpuMs).toEqual([3.5, 15])
    expect(frames.intervalMs).toEqual([20, 40])
  })

  it('count those in which a screen that was asked for none shows the last again', () => {
    // Four frames' time: work in the first, a message in the third, and a frame again.
    const events = [name, frame(0), task(1, 9), task(at(2) + 3, 1), frame(at(4)), task(at(4), 4), frame(at(5))]
    expect(framesOf(events).workMs).toEqual([10, 4])
    expect(framesOf(events, { rests: true }).workMs).toEqual([9, 0, 1, 0, 4])
  })

  it('are held up by work that goes on through them', () => {
    // 40 ms: the second and third frame of the screen cannot begin; the fourth can.
    const events = [name, frame(0), task(1, 40), frame(at(4))]
    const frames = framesOf(events, { rests: true })
    expect(frames.workMs).toEqual([40, 0])
    expect(frames.intervalMs.map(Math.round)).toEqual([50, 17])
  })

  it('are the same where the page asks for every one', () => {
    const starts = [0, 1, 2, 3].map((n) => frame(at(n) + (n === 2 ? 6 : 0)))
    const events = [name, ...starts, task(1, 2), task(at(1) + 1, 21)]
    expect(framesOf(events, { rests: true })).toEqual(framesOf(events))
  })
})
