import { describe, expect, it } from 'vitest'
import type { Landmarks } from '#shared/domain/result.ts'
import { overrideSchema } from '#shared/domain/views.ts'
import {
  isUntouched,
  leaveToMachine,
  MARK_GROUPS,
  MARK_IDS,
  markTimes,
  moveMark,
} from '../../src-renderer/features/traces/marks.ts'

const LANDMARKS = { beforeWindow: [0, 0.03], afterWindow: [0.2, 0.3], crossLowS: 0.051, crossHighS: 0.056 } as const
const marks = LANDMARKS as unknown as Landmarks
const RECORD_S = 0.3
const LEAST_S = 0.001

describe('marks moved by hand', () => {
  it('begin where the machine put them; the span is the whole record', () => {
    expect(markTimes({}, marks, RECORD_S)).toEqual({
      beforeStart: 0,
      beforeEnd: 0.03,
      afterStart: 0.2,
      afterEnd: 0.3,
      crossLow: 0.051,
      crossHigh: 0.056,
      spanStart: 0,
      spanEnd: 0.3,
    })
    expect(markTimes({}, null, RECORD_S).crossLow).toBeNull()
  })

  it('put only what was moved into the override', () => {
    expect(moveMark({}, marks, 'beforeEnd', 0.02, RECORD_S, LEAST_S)).toEqual({ beforeWindow: [0, 0.02] })
    expect(moveMark({ crossLowS: 0.05 }, marks, 'crossHigh', 0.06, RECORD_S, LEAST_S)).toEqual({
      crossLowS: 0.05,
      crossHighS: 0.06,
    })
  })

  it('stay within the record and never cross', () => {
    const late = moveMark({}, marks, 'beforeStart', 0.1, RECORD_S, LEAST_S).beforeWindow
    expect(late?.[0]).toBe(0.1)
    expect(late?.[1]).toBeCloseTo(0.101, 9)
    const early = moveMark({}, marks, 'afterEnd', -1, RECORD_S, LEAST_S).afterWindow
    expect(early).toEqual([0, LEAST_S])
    const beyond = moveMark({}, marks, 'spanStart', 9, RECORD_S, LEAST_S).span
    expect(beyond?.[0]).toBeCloseTo(RECORD_S - LEAST_S, 9)
    expect(beyond?.[1]).toBeCloseTo(RECORD_S, 9)
  })

  it('make overrides the host takes, whichever mark moves where', () => {
    for (const id of MARK_IDS)
      for (const to of [-1, 0, 0.1, 0.3, 2]) {
        const moved = moveMark({}, marks, id, to, RECORD_S, LEAST_S)
        expect(overrideSchema.parse(moved)).toEqual(moved)
        expect(Object.keys(moved)).toHaveLength(1)
      }
  })

  it('go back to the machine one by one', () => {
    const both = { crossLowS: 0.05, span: [0, 0.2] as [number, number] }
    expect(leaveToMachine(both, 'span')).toEqual({ crossLowS: 0.05 })
    expect(isUntouched(leaveToMachine({ crossLowS: 1 }, 'crossLowS'))).toBe(true)
  })

  it('are all offered', () => {
    expect(MARK_GROUPS.flatMap((group) => group.marks.map(({ id }) => id)).toSorted()).toEqual([...MARK_IDS].toSorted())
  })
})
