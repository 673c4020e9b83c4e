import { describe, expect, it } from 'vitest'
import { PANEL_IDS } from '#shared/domain/rig.ts'
import { biasOf, COMPARED, CONDITIONINGS, saysSo } from './tabulate.ts'

const STEPS = [
  [0, 255],
  [255, 51],
  [51, 102],
] as const
const cases = PANEL_IDS.flatMap((panel) =>
  (['Off', 'Extreme'] as const).flatMap((setting) =>
    [48, 240].flatMap((refreshHz) => STEPS.map(([from, to]) => ({ panel, setting, refreshHz, from, to }))),
  ),
)

describe('bias against the simulated truth', () => {
  const [steady, ...others] = CONDITIONINGS

  it('steady light without conditioning: within 0.1 % of times and 0.1 points of shares', () => {
    for (const one of cases) {
      if (steady === undefined) throw new Error('no conditioning')
      const { bias, missing } = biasOf({ ...one, conditioning: steady })
      expect(missing).toEqual([])
      for (const [id] of COMPARED) expect(Math.abs(bias[id] ?? 1), `${id} ${JSON.stringify(one)}`).toBeLessThan(0.1)
    }
  })

  it.each(others.map((conditioning) => [conditioning.name, conditioning] as const))(
    '%s: a duration off by more than 5 % carries a flag that says so',
    (_name, conditioning) => {
      const silent = cases.filter((one) => {
        const outcome = biasOf({ ...one, conditioning })
        return Math.abs(outcome.bias.transition_duration_s ?? 0) > 5 && !saysSo(outcome)
      })
      expect(silent).toEqual([])
    },
  )
})
