import { Command } from 'commander'
import { expect, it } from 'vitest'
import { addRigOptions, rigTargetOf, type RigOptions } from '#main/cli/plan-options.ts'

const target = (...args: string[]): unknown =>
  rigTargetOf({ ...addRigOptions(new Command()).parse(args, { from: 'user' }).opts<RigOptions>(), seed: 1 })

it('the simulated rig has a second channel where it is asked for', () => {
  expect(target()).toMatchObject({ kind: 'simulated', simulation: { eventChannel: false } })
  expect(target('--second-channel', '--backlight', 'strobe')).toMatchObject({
    simulation: { eventChannel: true, backlight: 'strobe' },
  })
})
