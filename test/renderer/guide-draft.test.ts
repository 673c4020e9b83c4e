import { describe, expect, it } from 'vitest'
import type { SequenceId } from '#shared/domain/guided.ts'
import { type GuideDraft, readGuideDraft } from '../../src-renderer/features/record/guide/guide-draft.ts'

const DRAFT: GuideDraft = {
  by: 'typed',
  meter: '',
  query: 'MEAS?',
  u: '',
  source: '',
  setting: 'Off',
  refresh: '60',
  places: '9',
  axis: 'horizontal',
  list: '',
  minutes: '30',
  label: '',
  frameSignal: false,
  settle: '1',
  repeats: '4',
}
const read = (sequence: SequenceId, change: Partial<GuideDraft>) =>
  readGuideDraft(sequence, { ...DRAFT, ...change }, [])

describe('a sequence as typed', () => {
  it('takes what its fields say they take, to both ends', () => {
    const ends: readonly Partial<GuideDraft>[] = [
      { refresh: '10', settle: '0.35', u: '0' },
      { refresh: '1000', settle: '60', u: '0,5' },
    ]
    for (const change of ends)
      expect(read('uniformity', change)).toMatchObject({ problems: {}, plan: change.u === '0' ? { u: 0 } : { u: 0.5 } })
    for (const list of ['-85 85', '0']) expect(read('angle', { list }).problems).toEqual({})
    expect(read('ladder', { list: '0 255' }).problems).toEqual({})
    for (const minutes of ['0.5', '240']) expect(read('white-over-time', { minutes }).problems).toEqual({})
    for (const repeats of ['1', '50']) expect(read('strobing', { by: 'photodiode', repeats }).problems).toEqual({})
  })

  it.each<[SequenceId, Partial<GuideDraft>, string]>([
    ['uniformity', { refresh: '9.9' }, 'refreshHz'],
    ['uniformity', { refresh: '1001' }, 'refreshHz'],
    ['uniformity', { settle: '0.3' }, 'settleS'],
    ['uniformity', { settle: '' }, 'settleS'],
    ['uniformity', { u: 'half' }, 'u'],
    ['uniformity', { u: '-1' }, 'u'],
    ['angle', { list: '0 86' }, 'angles'],
    ['ladder', { list: '0' }, 'codes'],
    ['ladder', { list: '0 256' }, 'codes'],
    ['flicker', { by: 'photodiode', list: '100 %,, 0 %' }, 'brightness'],
    ['white-over-time', { minutes: '241' }, 'minutes'],
    ['strobing', { by: 'photodiode', repeats: '51' }, 'repeats'],
    ['strobing', { by: 'photodiode', setting: ' ' }, 'setting'],
    ['uniformity', { by: 'meter', meter: '' }, 'meter'],
  ])('%s with %o cannot begin, and the field says why', (sequence, change, field) => {
    const { plan, problems } = read(sequence, change)
    expect(plan).toBeNull()
    expect(Object.keys(problems)).toEqual([field])
    expect(Object.values(problems)[0]).not.toBe('')
  })
})
