/** Every parameter of a recipe as fields for editing: words, units, bounds, and the recipe each change leads to. */
import type { Recipe } from '#shared/domain/recipe.ts'
import { conditionFields } from './condition-fields.ts'
import { choice, clean, number, type ChoiceField, type Field, type NumberField, type SwitchField } from './field.ts'

export interface Section {
  readonly id: string
  readonly title: string
  readonly fields: readonly Field[]
}

type Levels = Recipe['levels']
type Band = Recipe['startBand']

const LEVELS: Readonly<Record<Levels['kind'], Levels>> = {
  windows: { kind: 'windows', statistic: 'mean', beforeShare: 0.6, afterShare: 0.2 },
  histogram: { kind: 'histogram', bins: 256, statistic: 'mode' },
  ladder: { kind: 'ladder' },
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

/** What a band or a duration can be told in, with the half width it starts from. */
const IN_BANDS = {
  percent: { kind: 'percent', percent: 3 },
  codes: { kind: 'codes', codes: 10 },
  lightness: { kind: 'lightness', lightness: 2 },
} as const satisfies Record<Band['kind'], Band>

function durationFields(recipe: Recipe): readonly Field[] {
  return [
    choice({
      id: 'ordinate',
      label: 'Measured on',
      hint: 'Code and lightness read the ladder, so that equal steps look about equal; lightness is CIE 1976 L*, 100 at its highest level.',
      value: recipe.ordinate,
      choices: [
        { id: 'luminance', label: 'Luminance' },
        { id: 'code', label: 'Grey-level code' },
        { id: 'lightness', label: 'Lightness L*' },
      ],
      set: (ordinate) => ({ ...recipe, ordinate }),
    }),
    choice({
      id: 'duration.kind',
      label: 'Duration between',
      hint: 'Shares of the step follow IEEE Std 181; bands in codes or L* compare steps of any size.',
      value: recipe.duration.kind,
      choices: [
        { id: 'percent', label: 'Shares of the step' },
        { id: 'codes', label: 'Bands in codes' },
        { id: 'lightness', label: 'Bands in L*' },
      ],
      set: (kind) => ({ ...recipe, duration: kind === 'percent' ? { kind, percent: 10 } : IN_BANDS[kind] }),
    }),
    durationSize(recipe),
  ]
}

function durationSize(recipe: Recipe): NumberField {
  const { duration } = recipe
  if (duration.kind === 'percent')
    return number({
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
  if (duration.kind === 'codes')
    return number({
      id: 'duration.codes',
      label: 'Band',
      unit: '± codes',
      hint: 'Timed from leaving the old level’s band to entering the new level’s.',
      value: duration.codes,
      min: 0.5,
      max: 64,
      step: 0.5,
      set: (codes) => ({ ...recipe, duration: { kind: 'codes', codes } }),
    })
  return number({
    id: 'duration.lightness',
    label: 'Band',
    unit: '± L*',
    hint: 'Timed from leaving the old level’s band to entering the new level’s.',
    value: duration.lightness,
    min: 0.2,
    max: 40,
    step: 0.1,
    set: (lightness) => ({ ...recipe, duration: { kind: 'lightness', lightness } }),
  })
}

function bandOf(
  recipe: Recipe,
  name: 'startBand' | 'endBand',
  label: string,
  hint: string,
): readonly [ChoiceField, NumberField] {
  return [
    choice({
      id: `${name}.kind`,
      label: `${label} in`,
      hint,
      value: recipe[name].kind,
      choices: [
        { id: 'percent', label: 'Share of the step' },
        { id: 'codes', label: 'Codes' },
        { id: 'lightness', label: 'L*' },
      ],
      set: (kind) => ({ ...recipe, [name]: IN_BANDS[kind] }),
    }),
    bandSize(recipe, name, label),
  ]
}

function bandSize(recipe: Recipe, name: 'startBand' | 'endBand', label: string): NumberField {
  const band = recipe[name]
  const common = {
    label: `${label}, half width`,
    hint: 'Narrower bands find smaller disturbances and more noise.',
  }
  if (band.kind === 'percent')
    return number({
      ...common,
      id: `${name}.percent`,
      unit: '± % of the step',
      value: band.percent,
      min: 0.1,
      max: 40,
      step: 0.1,
      set: (percent) => ({ ...recipe, [name]: { kind: 'percent', percent } }),
    })
  if (band.kind === 'codes')
    return number({
      ...common,
      id: `${name}.codes`,
      unit: '± codes',
      value: band.codes,
      min: 0.1,
      max: 64,
      step: 0.1,
      set: (codes) => ({ ...recipe, [name]: { kind: 'codes', codes } }),
    })
  return number({
    ...common,
    id: `${name}.lightness`,
    unit: '± L*',
    value: band.lightness,
    min: 0.05,
    max: 40,
    step: 0.05,
    set: (lightness) => ({ ...recipe, [name]: { kind: 'lightness', lightness } }),
  })
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
    hint: 'Needed to flag transitions as fast as the detector, and to correct for it.',
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
            label: 'Also give the duration with the detector removed',
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
  if (field.kind === 'number') {
    const number = String(Number(field.value.toPrecision(7)))
    const { unit } = field
    return unit.startsWith('± ') ? `±${number} ${unit.slice(2)}` : `${number} ${unit}`.trim()
  }
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
