import { describe, expect, it } from 'vitest'
import { campaignPlanSchema, planOfFile, settingSchema, sweepPlanOf, visitsOf } from '#shared/domain/campaign-plan.ts'
import { DEFAULT_PLAN, sweepPlanSchema } from '#shared/domain/plan.ts'

const sweep = sweepPlanSchema.parse(DEFAULT_PLAN)

describe('plan of a campaign', () => {
  it('changes each setting once, and never together with the refresh rate', () => {
    const visits = visitsOf({ settings: ['Off', 'Gentle', 'Strong'], refreshHz: [144, 60, 100], leaveOut: [] })
    expect(visits.map(({ setting, refreshHz }) => `${setting} ${refreshHz}`)).toEqual([
      'Off 60',
      'Off 100',
      'Off 144',
      'Gentle 144',
      'Gentle 100',
      'Gentle 60',
      'Strong 60',
      'Strong 100',
      'Strong 144',
    ])
  })
  it('leaves out what is not wanted, but not everything', () => {
    const plan = { settings: ['Off'], refreshHz: [60, 75], leaveOut: [{ setting: 'Off', refreshHz: 60 }], sweep }
    expect(visitsOf(campaignPlanSchema.parse(plan))).toEqual([{ setting: 'Off', refreshHz: 75 }])
    const nothing = { ...plan, refreshHz: [60] }
    expect(campaignPlanSchema.safeParse(nothing).error?.issues[0]?.message).toBe('Every combination is left out.')
  })
  it('refuses labels that a program could take for something else', () => {
    for (const label of ['-rf', '', '$(id)', 'a;b', 'a\nb', '`x`', 'a"b'])
      expect(settingSchema.safeParse(label).success).toBe(false)
    for (const label of ['Off', 'Level 2', 'Très vite', '+1', 'a.b_c-d'])
      expect(settingSchema.safeParse(label).success).toBe(true)
    expect(campaignPlanSchema.safeParse({ settings: ['Off', 'off'], refreshHz: [60], sweep }).success).toBe(false)
  })
  it('of a file takes what a sweep leaves out as usual, and nothing that is no record', () => {
    const plan = { settings: ['Off'], refreshHz: [60] }
    expect(planOfFile(plan).data?.sweep).toEqual(sweep)
    expect(planOfFile({ ...plan, sweep: { repeats: 2 } }).data?.sweep).toEqual({ ...sweep, repeats: 2 })
    for (const wrong of [null, 5, true, '', 'repeats', [], [1]])
      expect([wrong, planOfFile({ ...plan, sweep: wrong }).success]).toEqual([wrong, false])
    for (const wrong of [null, 5, 'plan', [], [plan]])
      expect([wrong, planOfFile(wrong).success]).toEqual([wrong, false])
  })
  it('of a file leaves out only what it plans', () => {
    const plan = { settings: ['Off', 'Strong'], refreshHz: [60] }
    expect(planOfFile({ ...plan, leaveOut: [{ setting: 'Strong', refreshHz: 60 }] }).success).toBe(true)
    for (const out of [
      { setting: 'strong', refreshHz: 60 },
      { setting: 'Strong', refreshHz: 60.5 },
    ])
      expect(planOfFile({ ...plan, leaveOut: [out] }).error?.issues).toMatchObject([{ path: ['leaveOut', 0] }])
  })
  it('gives every sweep its own seed', () => {
    const plan = campaignPlanSchema.parse({ settings: ['Off'], refreshHz: [60, 75], sweep })
    const plans = visitsOf(plan).map((visit, i) => sweepPlanOf(plan, visit, i))
    expect(plans.map(({ seed, refreshHz, setting }) => [seed - sweep.seed, refreshHz, setting])).toEqual([
      [0, 60, 'Off'],
      [1, 75, 'Off'],
    ])
  })
})
