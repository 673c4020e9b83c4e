import { describe, expect, it } from 'vitest'
import { fc } from '../support/fast-check.ts'
import { DEFAULT_PLAN, sweepPlanSchema } from '#shared/domain/plan.ts'
import {
  DEFAULT_DRAFT,
  draftOf,
  parseLevels,
  presetOf,
  readDraft,
  restoreDraft,
} from '../../src-renderer/features/bench/plan-draft.ts'
import { numberProblem, parseNumber } from '../../src-renderer/ui/parse-number.ts'

const errors = (change: Partial<typeof DEFAULT_DRAFT>) => readDraft({ ...DEFAULT_DRAFT, ...change }).errors
const decimal = (min: number, max: number, scale: number) =>
  fc.integer({ min: min * scale, max: max * scale }).map((n) => n / scale)

describe('numbers as typed', () => {
  it('takes a point or a comma and nothing that only looks like a number', () => {
    expect(parseNumber(' 12.5 ')).toBe(12.5)
    expect(parseNumber('12,5')).toBe(12.5)
    expect(parseNumber('.5')).toBe(0.5)
    expect(parseNumber('1e3')).toBe(1000)
    for (const wrong of ['', ' ', 'x', '1.2.3', '0x10', 'Infinity', 'NaN', '1 000', '12ms', '1e999'])
      expect(parseNumber(wrong)).toBeNull()
  })

  it('never guesses what a comma before three digits means', () => {
    for (const text of ['144,165', '59,940', '1,000,000']) {
      expect(parseNumber(text)).toBeNull()
      expect(numberProblem(text)).toContain('can be read in two ways')
    }
    expect(errors({ refreshHz: '144,165' }).refreshHz).toContain('Use a point: 144.165.')
    expect(errors({ refreshHz: '60 144' }).refreshHz).toBe('One number only.')
    expect(parseNumber('59,94')).toBe(59.94)
  })
})

describe('settings as typed', () => {
  const only = (setting: string) => readDraft({ ...DEFAULT_DRAFT, setting }, ['Off', 'Strong']).errors.setting
  it('are names, and where the display’s own are known, one of them', () => {
    expect(errors({ setting: ' ?!' }).setting).toContain('Name the setting')
    expect(errors({ setting: 'Level 2' }).setting).toBeUndefined()
    expect(only('Strong')).toBeUndefined()
    expect(only('strnog')).toBe('This display has no setting “strnog”. It has Off and Strong.')
  })
})

describe('levels as typed', () => {
  it('sorts, and takes any usual separator', () => {
    expect(parseLevels('255, 0;128  64').levels).toEqual([0, 64, 128, 255])
  })
  it('names the part that is wrong', () => {
    expect(parseLevels('0, 256').error).toContain('256')
    expect(parseLevels('0, -5').error).toContain('-5')
    expect(parseLevels('0, 12.5').error).toContain('12.5')
    expect(parseLevels('7 7').error).toContain('7 is listed twice')
    expect(parseLevels('  ').error).toContain('at least two')
  })
  it('finds the preset of a list whatever its order', () => {
    expect(presetOf('255 0')).toBe('two ends')
    expect(presetOf('0, 1')).toBeNull()
    expect(presetOf('')).toBeNull()
  })
})

describe('plan form', () => {
  it('starts as the default plan and needs no correction', () => {
    const reading = readDraft(DEFAULT_DRAFT)
    expect(reading.errors).toEqual({})
    expect(reading.plan).toEqual(sweepPlanSchema.parse(DEFAULT_PLAN))
  })

  it('gives back any plan exactly', () => {
    fc.assert(
      fc.property(
        fc.record({
          refreshHz: decimal(10, 1000, 100),
          repeats: fc.integer({ min: 1, max: 100 }),
          preS: decimal(0.001, 0.2, 10_000),
          postS: decimal(0.01, 0.3, 10_000),
          spacingS: decimal(0.4, 5, 1000),
          sampleRateHz: decimal(20_000, 1_000_000, 1),
          rangeV: decimal(0.001, 100, 1000),
          seed: fc.integer({ min: 0, max: 0xffffffff }),
        }),
        (change) => {
          const plan = sweepPlanSchema.parse({ ...DEFAULT_PLAN, ...change })
          expect(readDraft(draftOf(plan)).plan).toEqual(plan)
        },
      ),
    )
  })

  it('says what is wrong at the field, in the field’s unit', () => {
    expect(errors({ refreshHz: '5' }).refreshHz).toBe('At least 10.')
    expect(errors({ preMs: '0.5' }).preMs).toBe('At least 1.')
    expect(errors({ postMs: '30000' }).postMs).toBe('At most 20000.')
    expect(errors({ repeats: '2.5' }).repeats).toBe('A whole number is needed.')
    expect(errors({ repeats: '' }).repeats).toBe('A number is missing.')
    expect(errors({ setting: '  ' }).setting).toContain('Name the setting')
    expect(errors({ levels: '128' }).levels).toContain('at least two')
    expect(errors({ surround: '300' }).surround).toBe('At most 255.')
    expect(errors({ patchSizePct: 'big' }).patchSizePct).toBe('This is not a number.')
  })

  it('keeps three changes a second unless the limit was lifted', () => {
    const fast = { ...DEFAULT_DRAFT, postMs: '90', spacingMs: '100' }
    expect(readDraft(fast).errors.spacingMs).toContain('three flashes')
    expect(readDraft({ ...fast, flashLimitLifted: true }).plan?.flashLimitLifted).toBe(true)
  })

  it('refuses a spacing shorter than the record', () => {
    expect(readDraft({ ...DEFAULT_DRAFT, postMs: '500' }).errors.spacingMs).toContain('shorter')
  })
})

describe('a stored draft', () => {
  it('is completed and never lifts the flash limit', () => {
    const restored = restoreDraft({ setting: 'Strong', flashLimitLifted: true, trigger: 'else', repeats: 7, more: 1 })
    expect(restored).toEqual({ ...DEFAULT_DRAFT, setting: 'Strong' })
    expect(restoreDraft(null)).toEqual(DEFAULT_DRAFT)
    expect(restoreDraft('text')).toEqual(DEFAULT_DRAFT)
  })
})
