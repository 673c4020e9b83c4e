import { describe, expect, it } from 'vitest'
import { carryOut, type Layers } from '../../src-renderer/stimulus/commands.ts'
import type { Guide } from '../../src-renderer/stimulus/guide.ts'
import { listenForInput, type Reactions } from '../../src-renderer/stimulus/reactions.ts'
import { frameStatistics, hasDrop, startFrameClock } from '../../src-renderer/stimulus/frame-clock.ts'

/** Animation frames under the test's hand: each `frame(ms)` is one more frame, that much after the last. */
function frames(): { request: (callback: (time: number) => void) => void; frame: (ms: number) => Promise<void> } {
  let waiting: ((time: number) => void)[] = []
  let now = 1000
  return {
    request: (callback) => void waiting.push(callback),
    frame: async (ms) => {
      now += ms
      const due = waiting
      waiting = []
      for (const callback of due) callback(now)
      // Whatever waited for the frame runs before the next one.
      await new Promise((resolve) => setImmediate(resolve))
    },
  }
}

function recordedLayers(): { layers: Layers; done: string[] } {
  const done: string[] = []
  return {
    done,
    layers: {
      arrange: (...args) => void done.push(`arrange ${args.join(' ')}`),
      paint: (level) => void done.push(`paint ${level}`),
      swap: () => void done.push('swap'),
      hide: () => void done.push('hide'),
    },
  }
}

function recordedReactions(done: string[]): Reactions {
  return { arm: (token) => void done.push(`arm ${token}`), disarm: () => undefined }
}

const NO_GUIDE: Guide = { show: () => undefined, hide: () => undefined }

describe('frame statistics', () => {
  it('are the median interval and a spread that single long frames do not move', () => {
    const times = Array.from({ length: 321 }, (_, i) => i * 10)
    expect(frameStatistics(times)).toEqual({ medianFrameMs: 10, spreadMs: 0, frames: 320 })
    const late = times.map((time) => time + (time > 1500 ? 500 : 0))
    expect(frameStatistics(late)).toEqual({ medianFrameMs: 10, spreadMs: 0, frames: 320 })
  })

  it('call a frame dropped above one and a half medians', () => {
    expect(hasDrop([0, 10, 20, 35], 10)).toBe(false)
    expect(hasDrop([0, 10, 20, 35.1], 10)).toBe(true)
  })
})

describe('commands of the host', () => {
  it('paint in one frame, swap in the next, and log the frames around', async () => {
    const { request, frame } = frames()
    const clock = startFrameClock(request)
    const { layers, done } = recordedLayers()
    for (let i = 0; i < 20; i++) await frame(10)
    const report = carryOut({ kind: 'show', token: 5, level: 200 }, layers, clock, recordedReactions(done), NO_GUIDE)
    expect(done).toEqual([])
    await frame(10)
    expect(done).toEqual(['paint 200'])
    await frame(10)
    expect(done).toEqual(['paint 200', 'swap'])
    await frame(10)
    await frame(10)
    const shown = await report
    expect(shown).toMatchObject({ kind: 'shown', token: 5, switchMs: 1220, dropped: false })
  })

  it('find a frame that was dropped anywhere around the switch, but not long before', async () => {
    for (const [late, dropped] of [
      [-3, false],
      [1, true],
      [2, true],
      [3, true],
    ] as const) {
      const { request, frame } = frames()
      const clock = startFrameClock(request)
      for (let i = -20; i < 0; i++) await frame(i === late ? 20 : 10)
      const report = carryOut(
        { kind: 'show', token: 1, level: 0 },
        recordedLayers().layers,
        clock,
        recordedReactions([]),
        NO_GUIDE,
      )
      for (let i = 0; i < 4; i++) await frame(i === late ? 20 : 10)
      expect([late, await report]).toEqual([late, expect.objectContaining({ dropped })])
    }
  })

  it('measure as many frames as asked after the layers are laid out', async () => {
    const { request, frame } = frames()
    const { layers, done } = recordedLayers()
    const clock = startFrameClock(request)
    const command = { kind: 'prepare', sizePct: 10, surround: 0, level: 32, measureFrames: 300, rows: [0.5] } as const
    const report = carryOut(command, layers, clock, recordedReactions([]), NO_GUIDE)
    expect(done).toEqual(['arrange 10 0 32 0.5'])
    for (let i = 0; i < 331; i++) await frame(4)
    expect(await report).toEqual({ kind: 'prepared', medianFrameMs: 4, spreadMs: 0, frames: 300 })
  })

  it('hide everything at the end', async () => {
    const { layers, done } = recordedLayers()
    expect(
      await carryOut({ kind: 'release' }, layers, startFrameClock(frames().request), recordedReactions([]), NO_GUIDE),
    ).toBeNull()
    expect(done).toEqual(['hide'])
  })
})

describe('a still picture', () => {
  it('lies over the levels two frames after it was asked for, until anything else is', async () => {
    const { request, frame } = frames()
    const { layers, done } = recordedLayers()
    const guide: Guide = { show: ({ x, y }) => void done.push(`picture ${x} ${y}`), hide: () => void done.push('gone') }
    const clock = startFrameClock(request)
    const picture = { x: 0.25, y: 0.75, rgb: [255, 0, 0], sizePct: 20, surround: 0, mark: false } as const
    const shown = carryOut(
      { kind: 'picture', token: 7, picture: { ...picture, rgb: [255, 0, 0] } },
      layers,
      clock,
      recordedReactions([]),
      guide,
    )
    expect(done).toEqual(['picture 0.25 0.75'])
    for (let i = 0; i < 3; i++) await frame(10)
    expect(await shown).toMatchObject({ kind: 'shown', token: 7, dropped: false })
    await carryOut({ kind: 'release' }, layers, clock, recordedReactions([]), guide)
    expect(done).toEqual(['picture 0.25 0.75', 'gone', 'hide'])
  })
})

describe('a reaction to input', () => {
  it('is armed two frames after its level was painted', async () => {
    const { request, frame } = frames()
    const { layers, done } = recordedLayers()
    const report = carryOut(
      { kind: 'react', token: 8, level: 255 },
      layers,
      startFrameClock(request),
      recordedReactions(done),
      NO_GUIDE,
    )
    expect(done).toEqual(['paint 255'])
    await frame(10)
    expect(done).toEqual(['paint 255'])
    await frame(10)
    expect(await report).toEqual({ kind: 'armed', token: 8 })
    expect(done).toEqual(['paint 255', 'arm 8'])
  })

  it('swaps the layers once, within the event itself, and tells how late its code ran', () => {
    const target = new EventTarget()
    const told: string[] = []
    let now = 0
    const reactions = listenForInput(
      target,
      () => void told.push('swap'),
      (report) => void told.push(JSON.stringify(report)),
      () => now,
    )
    target.dispatchEvent(new Event('pointerdown'))
    expect(told).toEqual([])
    reactions.arm(3)
    const pressed = new Event('keydown')
    now = pressed.timeStamp + 3.5
    target.dispatchEvent(pressed)
    target.dispatchEvent(new Event('pointerdown'))
    expect(told[0]).toBe('swap')
    expect(JSON.parse(told[1] ?? '')).toEqual({
      kind: 'reacted',
      token: 3,
      handlerMs: expect.closeTo(3.5, 6) as number,
    })
    expect(told).toHaveLength(2)
    reactions.arm(4)
    reactions.disarm()
    target.dispatchEvent(new Event('keydown'))
    reactions.arm(5)
    reactions.stop()
    target.dispatchEvent(new Event('keydown'))
    expect(told).toHaveLength(2)
  })
})
