/** Fields for editing a recipe, whatever they edit, and how they are made. */
import type { NumberSliderProps } from '../../ui/number-slider.tsx'
import type { Recipe } from '#shared/domain/recipe.ts'
import type { SliderScale } from '../../ui/slider-scale.ts'

interface FieldBase {
  readonly id: string
  readonly label: string
  /** One line: what it does. */
  readonly hint: string
}

/** Numbers are in the unit shown, which need not be the recipe's own. */
export interface NumberField extends FieldBase {
  readonly kind: 'number'
  readonly unit: string
  readonly value: number
  readonly min: number
  readonly max: number
  readonly scale: SliderScale
  readonly whole: boolean
  readonly set: (value: number) => Recipe
}

export interface ChoiceField extends FieldBase {
  readonly kind: 'choice'
  readonly value: string
  readonly choices: readonly { readonly id: string; readonly label: string; readonly warning?: string }[]
  readonly set: (id: string) => Recipe
}

export interface SwitchField extends FieldBase {
  readonly kind: 'switch'
  readonly value: boolean
  readonly set: (on: boolean) => Recipe
}

export type Field = NumberField | ChoiceField | SwitchField

/** Removes the noise that changing units leaves in the last digits. */
export const clean = (value: number): number => Number(value.toPrecision(12))

interface NumberSpec extends Pick<NumberSliderProps, 'label' | 'unit' | 'hint' | 'value' | 'min' | 'max' | 'whole'> {
  readonly id: string
  readonly step: number
  readonly logarithmic?: boolean
  /** Where the slider ends, when that is before what may be typed. */
  readonly sliderMax?: number
  readonly set: (value: number) => Recipe
}

export function number(spec: NumberSpec): NumberField {
  const { id, label, unit, hint, value, min, max, step, set } = spec
  const logarithmic = spec.logarithmic ?? false
  const scale = { min, max: spec.sliderMax ?? max, step, logarithmic }
  return {
    kind: 'number',
    id,
    label,
    unit,
    hint,
    value: clean(value),
    min,
    max,
    scale,
    whole: spec.whole ?? false,
    set,
  }
}

export function choice<K extends string>(spec: {
  readonly id: string
  readonly label: string
  readonly hint: string
  readonly value: K
  readonly choices: readonly { readonly id: K; readonly label: string; readonly warning?: string }[]
  readonly set: (id: K) => Recipe
}): ChoiceField {
  const { set, ...rest } = spec
  // A choice comes from the list above, never from elsewhere.
  return { kind: 'choice', ...rest, set: (id) => set(id as K) }
}
