import { describe, expect, it } from 'vitest'
import type { Conditions, RecordFigureId, RecordValue } from '#shared/record/figures.ts'
import { RECORD_FIGURE_IDS } from '#shared/record/figures.ts'
import { figuresToCompare } from '../../src-renderer/features/findings/record-choice.ts'

const value = (figure: RecordFigureId, conditions: Conditions): RecordValue => ({
  figure,
  estimate: { value: 1, u: 0.1, dof: 9, shared: 0 },
  atLeast: false,
  conditions,
  readingIds: [1],
})
const display = (name: string, ...record: RecordValue[]) => ({ name, invented: true, record })
const [first, second, third] = RECORD_FIGURE_IDS as [RecordFigureId, RecordFigureId, RecordFigureId]

describe('figures of records to compare', () => {
  it('begin with one that two displays have measured alike', () => {
    const displays = [
      display('A', value(first, { Hz: 60 }), value(second, { Hz: 60 }), value(third, {})),
      display('B', value(first, { Hz: 144 }), value(second, { Hz: 60 })),
    ]
    expect(figuresToCompare(displays)).toEqual({ offered: [first, second], usual: second })
  })

  it('begin with the first where none was measured alike, and with none where none is shared', () => {
    const [a, b] = [display('A', value(first, { Hz: 60 })), display('B', value(first, { Hz: 144 }))]
    expect(figuresToCompare([a, b])).toEqual({ offered: [first], usual: first })
    expect(figuresToCompare([a])).toEqual({ offered: [], usual: null })
  })
})
