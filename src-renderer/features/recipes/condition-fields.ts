/** Fields of what is done to a trace before it is measured. */
import type { Recipe } from '#shared/domain/recipe.ts'
import { choice, number, type Field, type SwitchField } from './field.ts'

type Condition = Recipe['condition']

export const RINGING =
  'Rings on steps: overshoot and settling then show the filter as much as the display, and are flagged.'

const CONDITIONS: Readonly<Record<Condition['kind'], Condition>> = {
  none: { kind: 'none' },
  'one-period-mean': { kind: 'one-period-mean', frequencyHz: null, periods: 1 },
  divide: { kind: 'divide', frequencyHz: null },
  'low-pass': { kind: 'low-pass', shape: 'bessel-4', cutoffHz: 2000, phase: 'zero' },
  'savitzky-golay': { kind: 'savitzky-golay', points: 21, order: 2 },
}

function frequencyFields(recipe: Recipe, condition: Extract<Condition, { frequencyHz: number | null }>): Field[] {
  const withFrequency = (frequencyHz: number | null): Recipe => ({
    ...recipe,
    condition: { ...condition, frequencyHz },
  })
  const found: SwitchField = {
    kind: 'switch',
    id: 'condition.detect',
    label: 'Find the ripple frequency in each record',
    hint: 'Off: the frequency given below is used for every record.',
    value: condition.frequencyHz === null,
    set: (on) => withFrequency(on ? null : 240),
  }
  if (condition.frequencyHz === null) return [found]
  return [
    found,
    number({
      id: 'condition.frequencyHz',
      label: 'Ripple frequency',
      unit: 'Hz',
      hint: 'Of the backlight, as measured; a wrong one leaves ripple behind.',
      value: condition.frequencyHz,
      min: 20,
      max: 100_000,
      step: 1,
      logarithmic: true,
      set: withFrequency,
    }),
  ]
}

/** The kind of conditioning, and what that kind needs. */
export function conditionFields(recipe: Recipe): readonly Field[] {
  const { condition } = recipe
  const kind = choice({
    id: 'condition.kind',
    label: 'Before measuring',
    hint: 'The stored samples stay as they are; only what is measured changes.',
    value: condition.kind,
    choices: [
      { id: 'none', label: 'Leave as recorded' },
      { id: 'one-period-mean', label: 'Mean over ripple periods' },
      { id: 'divide', label: 'Divide by the backlight waveform' },
      { id: 'low-pass', label: 'Low-pass' },
      { id: 'savitzky-golay', label: 'Savitzky–Golay', warning: RINGING },
    ],
    set: (next) => ({ ...recipe, condition: CONDITIONS[next] }),
  })
  switch (condition.kind) {
    case 'none':
      return [kind]
    case 'divide':
      return [kind, ...frequencyFields(recipe, condition)]
    case 'one-period-mean':
      return [
        kind,
        ...frequencyFields(recipe, condition),
        number({
          id: 'condition.periods',
          label: 'Mean over',
          unit: 'periods',
          hint: 'Whole ripple periods; each more broadens the edge by one period.',
          value: condition.periods,
          min: 1,
          max: 50,
          step: 1,
          whole: true,
          set: (periods) => ({ ...recipe, condition: { ...condition, periods } }),
        }),
      ]
    case 'low-pass':
      return [
        kind,
        choice({
          id: 'condition.shape',
          label: 'Shape',
          hint: 'One-pole and Bessel keep a step free of ringing.',
          value: condition.shape,
          choices: [
            { id: 'one-pole', label: 'One pole' },
            { id: 'bessel-2', label: 'Bessel, order 2' },
            { id: 'bessel-4', label: 'Bessel, order 4' },
            { id: 'butterworth-2', label: 'Butterworth, order 2', warning: RINGING },
            { id: 'butterworth-4', label: 'Butterworth, order 4', warning: RINGING },
          ],
          set: (shape) => ({ ...recipe, condition: { ...condition, shape } }),
        }),
        number({
          id: 'condition.cutoffHz',
          label: 'Cut-off',
          unit: 'Hz',
          hint: 'A step becomes at least about 0.35 ÷ cut-off long; it must lie below half the sample rate.',
          value: condition.cutoffHz,
          min: 1,
          max: 5_000_000,
          step: 1,
          logarithmic: true,
          set: (cutoffHz) => ({ ...recipe, condition: { ...condition, cutoffHz } }),
        }),
        choice({
          id: 'condition.phase',
          label: 'Phase',
          hint: 'Zero phase runs both ways and does not delay; causal delays as a real filter would.',
          value: condition.phase,
          choices: [
            { id: 'zero', label: 'Zero' },
            { id: 'causal', label: 'Causal' },
          ],
          set: (phase) => ({ ...recipe, condition: { ...condition, phase } }),
        }),
      ]
    case 'savitzky-golay':
      break
  }
  return [
    kind,
    number({
      id: 'condition.points',
      label: 'Points',
      unit: 'samples',
      hint: 'Length of the fitted stretch; longer is quieter and rings longer.',
      value: condition.points,
      min: 5,
      max: 501,
      step: 2,
      whole: true,
      set: (points) => ({ ...recipe, condition: { ...condition, points } }),
    }),
    number({
      id: 'condition.order',
      label: 'Order',
      unit: '',
      hint: 'Order of the polynomial; higher follows edges closer and rings more.',
      value: condition.order,
      min: 2,
      max: 4,
      step: 1,
      whole: true,
      set: (order) => ({ ...recipe, condition: { ...condition, order } }),
    }),
  ]
}
