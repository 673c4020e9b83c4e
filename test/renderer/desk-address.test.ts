import { describe, expect, it } from 'vitest'
import { captureFilterSchema } from '#shared/domain/views.ts'
import {
  asksSomething,
  EVERYTHING,
  hostFilter,
  listedMeasure,
  readAddress,
  writeAddress,
  type DeskAddress,
} from '../../src-renderer/navigation/address.ts'

const read = (hash: string): DeskAddress => {
  const [path = '', query = ''] = hash.slice('#/traces'.length).split('?')
  return readAddress(path.slice(1), new URLSearchParams(query))
}
const FULL: DeskAddress = {
  captureId: 12,
  filter: {
    campaignId: 2,
    sweepId: 7,
    from: 0,
    to: 255,
    flag: 'hum',
    review: 'exclude',
    verdict: 'good',
    doubtful: true,
    noted: true,
    sort: 'overshoot_pct',
    descending: true,
  },
}

describe('address of the desk', () => {
  it('survives being written and read', () => {
    expect(read(writeAddress(FULL))).toEqual(FULL)
    expect(read(writeAddress({ captureId: null, filter: EVERYTHING }))).toEqual({ captureId: null, filter: EVERYTHING })
  })

  it('leaves out what it does not ask', () => {
    expect(writeAddress({ captureId: 3, filter: EVERYTHING })).toBe('#/traces/3')
    expect(writeAddress({ captureId: null, filter: { ...EVERYTHING, from: 0 } })).toBe('#/traces?from=0')
  })

  it('leaves out what it does not know, and keeps the rest', () => {
    const { captureId, filter } = read('#/traces/abc?sweep=-1&flag=nonsense&from=300&to=51&sort=DROP&order=up')
    expect(captureId).toBeNull()
    expect(filter).toEqual({ ...EVERYTHING, to: 51 })
  })

  it('asks the host only what is asked, in a form the host takes', () => {
    const asked = hostFilter(FULL.filter, 'a'.repeat(16))
    expect(captureFilterSchema.parse(asked)).toMatchObject({
      sweepId: 7,
      from: 0,
      doubtful: true,
      noted: true,
      sort: { by: 'overshoot_pct', descending: true },
    })
    expect(Object.keys(hostFilter(EVERYTHING, 'a'.repeat(16)))).toEqual(['recipeHash', 'sort'])
  })

  it('tells a filter from an order', () => {
    expect(asksSomething({ ...EVERYTHING, sort: 'flags', descending: true })).toBe(false)
    expect(asksSomething({ ...EVERYTHING, from: 0 })).toBe(true)
    expect(listedMeasure('snr')).toBe('snr')
    expect(listedMeasure('flags')).toBe('transition_duration_s')
  })
})
