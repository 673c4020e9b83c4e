/** Every parameter of a recipe as fields for editing: words, units, bounds, and the recipe each change leads to. */
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

export interface Section {
  readonly id: string
  readonly title: string
  readonly fields: readonly Field[]
}

type Condition = Recipe['condition']
type Levels = Recipe['levels']
type Band = Recipe['startBand']

export const RINGING =
  'Rings on steps: overshoot and settling then show the filter as much as the display, and are flagged.'

const CONDITIONS: Readonly<Record<Condition['kind'], Condition>> = {
  none: { kind: 'none' },
  'one-period-mean': { kind: 'one-period-mean', frequencyHz: null, periods: 1 },
  divide: { kind: 'divide', frequencyHz: null },
  'low-pass': { kind: 'low-pass', shape: 'bessel-4', cutoffHz: 2000, phase: 'zero' },
  'savitzky-golay': { kind: 'savitzky-golay', points: 21, order: 2 },
}

const LEVELS: Readonly<Record<Levels['kind'], Levels>> = {
  windows: { kind: 'windows', statistic: 'mean', beforeShare: 0.6, afterShare: 0.2 },
  histogram: { kind: 'histogram', bins: 256, statistic: 'mode' },
  ladder: { kind: 'ladder' },
}

/** Removes the noise that changing units leaves in the last digits. */
const clean = (value: number): number => Number(value.toPrecision(12))

interface NumberSpec {
  readonly id: string
  readonly label: string
  readonly unit: string
  readonly hint: string
  readonly value: number
  readonly min: number
  readonly max: number
  readonly step: number
  readonly whole?: boolean
  readonly logarithmic?: boolean
  /** Where the slider ends, when that is before what may be typed. */
  readonly sliderMax?: number
  readonly set: (value: number) => Recipe
}

function number(spec: NumberSpec): NumberField {
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

function choice<K extends string>(spec: {
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

/** The fields that apply to a recipe, in the order of the work: what is measured, on which levels, after which filter. */
export function sectionsOf(recipe: Recipe): readonly Section[] {
  return [
    { id: 'duration', title: 'Transition duration', fields: durationFields(recipe) },
    { id: 'bands', title: 'Onset, arrival, settling', fields: bandFields(recipe) },
    { id: 'levels', title: 'State levels', fields: levelFields(recipe) },
    { id: 'condition', title: 'Ripple and noise', fields: conditionFields(recipe) },
    { id: 'detector', title: 'Detector and error span', fields: detectorFields(recipe) },
    { id: 'summary', title: 'Summaries', fields: summaryFields(recipe) },
  ]
}

export function fieldsOf(recipe: Recipe): readonly Field[] {
  return sectionsOf(recipe).flatMap(({ fields }) => fields)
}

function durationFields(recipe: Recipe): readonly Field[] {
  const { duration } = recipe
  return [
    choice({
      id: 'ordinate',
      label: 'Measured on',
      hint: 'Code reads the ladder backwards, so that equal steps look equal; it needs a measured ladder.',
      value: recipe.ordinate,
      choices: [
        { id: 'luminance', label: 'Luminance' },
        { id: 'code', label: 'Grey-level code' },
      ],
      set: (ordinate) => ({ ...recipe, ordinate }),
    }),
    choice({
      id: 'duration.kind',
      label: 'Duration between',
      hint: 'Shares of the step follow IEEE Std 181; bands in codes compare steps of any size.',
      value: duration.kind,
      choices: [
        { id: 'percent', label: 'Shares of the step' },
        { id: 'codes', label: 'Bands in codes' },
      ],
      set: (kind) => ({
        ...recipe,
        duration: kind === 'percent' ? { kind, percent: 10 } : { kind, codes: 10 },
      }),
    }),
    duration.kind === 'percent'
      ? number({
          id: 'duration.percent',
          label: 'Lower reference',
          unit: '%',
          hint: `Timed from ${clean(duration.percent)} % to ${clean(100 - duration.percent)} % of the step.`,
          value: duration.percent,
          min: 0.5,
          max: 45,
          step: 0.5,
          set: (percent) => ({ ...recipe, duration: { kind: 'percent', percent } }),
        })
      : number({
          id: 'duration.codes',
          label: 'Band',
          unit: '± codes',
          hint: 'Timed from leaving the old level’s band to entering the new level’s.',
          value: duration.codes,
          min: 0.5,
          max: 64,
          step: 0.5,
          set: (codes) => ({ ...recipe, duration: { kind: 'codes', codes } }),
        }),
  ]
}

function bandOf(
  recipe: Recipe,
  name: 'startBand' | 'endBand',
  label: string,
  hint: string,
): readonly [ChoiceField, NumberField] {
  const band: Band = recipe[name]
  return [
    choice({
      id: `${name}.kind`,
      label: `${label} in`,
      hint,
      value: band.kind,
      choices: [
        { id: 'percent', label: 'Share of the step' },
        { id: 'codes', label: 'Codes' },
      ],
      set: (kind) => ({ ...recipe, [name]: kind === 'percent' ? { kind, percent: 3 } : { kind, codes: 10 } }),
    }),
    band.kind === 'percent'
      ? number({
          id: `${name}.percent`,
          label: `${label}, half width`,
          unit: '± % of the step',
          hint: 'Narrower bands find smaller disturbances and more noise.',
          value: band.percent,
          min: 0.1,
          max: 40,
          step: 0.1,
          set: (percent) => ({ ...recipe, [name]: { kind: 'percent', percent } }),
        })
      : number({
          id: `${name}.codes`,
          label: `${label}, half width`,
          unit: '± codes',
          hint: 'Narrower bands find smaller disturbances and more noise.',
          value: band.codes,
          min: 0.1,
          max: 64,
          step: 0.1,
          set: (codes) => ({ ...recipe, [name]: { kind: 'codes', codes } }),
        }),
  ]
}

function bandFields(recipe: Recipe): readonly Field[] {
  const { inWindow } = recipe
  return [
    ...bandOf(recipe, 'startBand', 'Start band', 'Leaving it is the onset, from which every time is counted.'),
    ...bandOf(recipe, 'endBand', 'End band', 'Its first entry is arrival, its last entry is settling.'),
    choice({
      id: 'inWindow.of',
      label: 'In the window when',
      hint: 'What has to be done within one refresh period.',
      value: inWindow.of,
      choices: [
        { id: 'settling', label: 'It has settled' },
        { id: 'arrival', label: 'It has arrived' },
      ],
      set: (of) => ({ ...recipe, inWindow: { ...inWindow, of } }),
    }),
    number({
      id: 'inWindow.tolerancePct',
      label: 'Window tolerance',
      unit: '% of the period',
      hint: 'Lengthens the refresh period that counts as the window.',
      value: inWindow.tolerancePct,
      min: 0,
      max: 50,
      step: 0.5,
      set: (tolerancePct) => ({ ...recipe, inWindow: { ...inWindow, tolerancePct } }),
    }),
  ]
}

function levelFields(recipe: Recipe): readonly Field[] {
  const { levels } = recipe
  const kind = choice({
    id: 'levels.kind',
    label: 'Levels from',
    hint: 'Where the step begins and ends: read from the record itself, or from the static levels.',
    value: levels.kind,
    choices: [
      { id: 'windows', label: 'Windows of the record' },
      { id: 'histogram', label: 'Histogram (IEEE Std 181)' },
      { id: 'ladder', label: 'The measured ladder' },
    ],
    set: (next) => ({ ...recipe, levels: LEVELS[next] }),
  })
  if (levels.kind === 'ladder') return [kind]
  if (levels.kind === 'histogram')
    return [
      kind,
      number({
        id: 'levels.bins',
        label: 'Bins',
        unit: '',
        hint: 'A mode is exact to half a bin; more bins need more samples.',
        value: levels.bins,
        min: 4,
        max: 4096,
        step: 1,
        whole: true,
        sliderMax: 1024,
        set: (bins) => ({ ...recipe, levels: { ...levels, bins } }),
      }),
      choice({
        id: 'levels.half',
        label: 'Level is the',
        hint: 'Mode: the fullest bin of each half. Mean: of all samples of each half.',
        value: levels.statistic,
        choices: [
          { id: 'mode', label: 'Mode' },
          { id: 'mean', label: 'Mean' },
        ],
        set: (statistic) => ({ ...recipe, levels: { ...levels, statistic } }),
      }),
    ]
  return [
    kind,
    choice({
      id: 'levels.statistic',
      label: 'Level is the',
      hint: 'The median is not moved by spikes; the mean is the quieter of the two.',
      value: levels.statistic,
      choices: [
        { id: 'mean', label: 'Mean' },
        { id: 'median', label: 'Median' },
      ],
      set: (statistic) => ({ ...recipe, levels: { ...levels, statistic } }),
    }),
    number({
      id: 'levels.beforeShare',
      label: 'Window before the edge',
      unit: '% of what lies before',
      hint: 'Share of the record before the edge that gives the old level.',
      value: levels.beforeShare * 100,
      min: 5,
      max: 100,
      step: 1,
      set: (percent) => ({ ...recipe, levels: { ...levels, beforeShare: clean(percent / 100) } }),
    }),
    number({
      id: 'levels.afterShare',
      label: 'Window at the end',
      unit: '% of the dwell',
      hint: 'Share at the end of the dwell that gives the new level.',
      value: levels.afterShare * 100,
      min: 2,
      max: 100,
      step: 1,
      set: (percent) => ({ ...recipe, levels: { ...levels, afterShare: clean(percent / 100) } }),
    }),
  ]
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

function conditionFields(recipe: Recipe): readonly Field[] {
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
          hint: 'A step gets at least about 0.35 ÷ cut-off long; it must lie below half the sample rate.',
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

function detectorFields(recipe: Recipe): readonly Field[] {
  const { detectorS, errorSpanS } = recipe
  const toEnd: SwitchField = {
    kind: 'switch',
    id: 'errorSpan.toEnd',
    label: 'Integrate the error to the end of the record',
    hint: 'Off: over the span given below, so that records of other lengths compare.',
    value: errorSpanS === null,
    set: (on) => ({ ...recipe, errorSpanS: on ? null : 0.1 }),
  }
  const known: SwitchField = {
    kind: 'switch',
    id: 'detector.known',
    label: 'The detector’s own duration is known',
    hint: 'Needed to doubt transitions as fast as the detector, and to correct for it.',
    value: detectorS !== null,
    set: (on) => (on ? { ...recipe, detectorS: 1e-4 } : { ...recipe, detectorS: null, correctDetector: false }),
  }
  return [
    toEnd,
    ...(errorSpanS === null
      ? []
      : [
          number({
            id: 'errorSpan.ms',
            label: 'Error span',
            unit: 'ms from onset',
            hint: 'Span over which the integrated error is taken.',
            value: errorSpanS * 1000,
            min: 0.1,
            max: 20_000,
            step: 0.1,
            logarithmic: true,
            set: (ms) => ({ ...recipe, errorSpanS: clean(ms / 1000) }),
          }),
        ]),
    known,
    ...(detectorS === null
      ? []
      : [
          number({
            id: 'detector.us',
            label: 'Detector’s duration, 10–90 %',
            unit: 'µs',
            hint: 'Of the photodiode with its amplifier: about 0.35 ÷ bandwidth.',
            value: detectorS * 1e6,
            min: 0.01,
            max: 100_000,
            step: 0.01,
            logarithmic: true,
            set: (us) => ({ ...recipe, detectorS: clean(us / 1e6) }),
          }),
          {
            kind: 'switch' as const,
            id: 'detector.correct',
            label: 'Also give the duration without the detector',
            hint: 'By root-sum-square, only where the detector takes at most 0.2 of the duration.',
            value: recipe.correctDetector,
            set: (correctDetector: boolean): Recipe => ({ ...recipe, correctDetector }),
          },
        ]),
  ]
}

function summaryFields(recipe: Recipe): readonly Field[] {
  return [
    number({
      id: 'darkCode',
      label: 'Dark steps up to',
      unit: 'code',
      hint: 'Transitions with both levels at or under it enter the dark mean.',
      value: recipe.darkCode,
      min: 0,
      max: 255,
      step: 1,
      whole: true,
      set: (darkCode) => ({ ...recipe, darkCode }),
    }),
    number({
      id: 'overshootLimitPct',
      label: 'Overshoot limit',
      unit: '% of the step',
      hint: 'Overshoot above it counts in the share over the limit.',
      value: recipe.overshootLimitPct,
      min: 0,
      max: 1000,
      step: 0.5,
      sliderMax: 100,
      set: (overshootLimitPct) => ({ ...recipe, overshootLimitPct }),
    }),
  ]
}

/** The recipe with one field changed; as it is when it has no such field (any more). */
export function withField(recipe: Recipe, id: string, value: number | string | boolean): Recipe {
  const field = fieldsOf(recipe).find((one) => one.id === id)
  if (field?.kind === 'number' && typeof value === 'number') return field.set(value)
  if (field?.kind === 'choice' && typeof value === 'string') return field.set(value)
  if (field?.kind === 'switch' && typeof value === 'boolean') return field.set(value)
  return recipe
}

/** A field's value with its unit, as it is read. */
export function fieldText(field: Field): string {
  if (field.kind === 'number') return `${Number(field.value.toPrecision(7))} ${field.unit}`.trim()
  if (field.kind === 'switch') return field.value ? 'on' : 'off'
  return field.choices.find(({ id }) => id === field.value)?.label ?? field.value
}

/** Parameters that are not what they are in `base`, as words. */
export function changesFrom(base: Recipe, recipe: Recipe): readonly string[] {
  const before = new Map(fieldsOf(base).map((field) => [field.id, fieldText(field)]))
  return fieldsOf(recipe).flatMap((field) =>
    before.get(field.id) === fieldText(field) ? [] : [`${field.label}: ${fieldText(field)}`],
  )
}
