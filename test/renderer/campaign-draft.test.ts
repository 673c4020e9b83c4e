import { describe, expect, it } from 'vitest'
import { EMPTY_DRAFT, readDraft } from '../../src-renderer/features/campaign/campaign-draft.ts'

const problems = (change: Partial<typeof EMPTY_DRAFT>) => readDraft({ ...EMPTY_DRAFT, ...change }).problems

describe('a campaign’s plan as typed', () => {
  it('is a plan of every setting at every rate', () => {
    expect(readDraft({ ...EMPTY_DRAFT, settings: 'Off\nStrong', refreshHz: '60; 59.94' })).toMatchObject({
      plan: { settings: ['Off', 'Strong'], refreshHz: [60, 59.94], warmUp: null },
      problems: {},
    })
  })

  it('says everything that is wrong at once', () => {
    expect(problems({ settings: 'Off, off', refreshHz: 'fast', repeats: '0', warmUpDrift: 'x' })).toEqual({
      settings: 'A setting is named twice.',
      refreshHz: '“fast” is not a refresh rate in Hz.',
      repeats: 'A whole number, 1 or more.',
      warmUpDrift: 'A number, in percent a minute, or empty.',
    })
    expect(problems({ settings: ' , ', refreshHz: '' })).toEqual({
      settings: 'Name at least one setting.',
      refreshHz: 'Name at least one refresh rate.',
    })
  })
})
