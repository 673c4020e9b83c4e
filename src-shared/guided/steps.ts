/** The steps of each guided sequence, in order. */
import type { GuidedPicture, GuidedPlan, Rgb, SensorPlace, SequenceId } from '#shared/domain/guided.ts'
import { STROBE_PLACES } from '#shared/record/strobe-points.ts'

export interface GuidedStep {
  /** Unique in its sequence; stored with the reading. */
  readonly id: string
  /** As stored with the reading. */
  readonly place: string
  /** Read from two metres; empty where nobody has to move anything. */
  readonly instruction: string
  readonly detail: string
  readonly picture: Omit<GuidedPicture, 'mark'>
  readonly sensor: SensorPlace
  /** Numbers of the final table's row that come before what is read. */
  readonly row: readonly number[]
  /** Not before this time since the first step, s. */
  readonly notBeforeS: number
}

const WHITE: Rgb = [255, 255, 255]
const CENTRE: SensorPlace = { x: 0.5, y: 0.5, degrees: 0 }
const COLUMNS: Readonly<Record<9 | 25, readonly string[]>> = {
  9: ['left', 'centre', 'right'],
  25: ['far left', 'left', 'centre', 'right', 'far right'],
}
const ROWS: Readonly<Record<9 | 25, readonly string[]>> = {
  9: ['top', 'middle', 'bottom'],
  25: ['very top', 'top', 'middle', 'bottom', 'very bottom'],
}
const percent = (share: number): string => `${Math.round(100 * share)} %`

/** Grey scale, primaries and their mixtures. */
const BUILT_IN_PATCHES: readonly Rgb[] = [
  ...Array.from({ length: 18 }, (_, i): Rgb => [15 * i, 15 * i, 15 * i]),
  [255, 0, 0],
  [0, 255, 0],
  [0, 0, 255],
  [0, 255, 255],
  [255, 0, 255],
  [255, 255, 0],
]

export const patchesOf = (plan: GuidedPlan): readonly Rgb[] =>
  plan.patches.length === 0 ? BUILT_IN_PATCHES : plan.patches

/** Every step of a plan; the same plan always has the same. */
export const stepsOf = (plan: GuidedPlan): GuidedStep[] => MAKERS[plan.sequence](plan)

const MAKERS: Readonly<Record<SequenceId, (plan: GuidedPlan) => GuidedStep[]>> = {
  uniformity,
  strobing,
  angle: angles,
  flicker: (plan) =>
    plan.brightness.map((name, i) => ({
      ...still(plan, WHITE),
      id: String(i + 1),
      place: `brightness ${name}`,
      instruction: `Set the display’s brightness to ${name}`,
      detail: 'Sensor on the mark at the centre of the screen.',
    })),
  ladder: (plan) =>
    [...new Set(plan.codes)]
      .sort((a, b) => a - b)
      .map((code, i) => ({
        ...still(plan, [code, code, code]),
        id: String(code),
        place: `centre, grey level ${code}`,
        instruction: i === 0 ? 'Put the instrument on the mark' : '',
        detail: 'It stays there; the grey levels follow by themselves.',
        row: [code],
      })),
  'white-over-time': (plan) =>
    Array.from({ length: Math.floor(plan.minutes / plan.everyMinutes + 1e-9) + 1 }, (_, i) => ({
      ...still(plan, WHITE),
      id: String(i),
      place: `centre, ${Number((i * plan.everyMinutes).toFixed(2))} min`,
      instruction: i === 0 ? 'Put the instrument on the mark, then switch the display off and on' : '',
      detail: 'Go on as soon as the mark is seen again; white is then read by itself until the end.',
      row: [i * plan.everyMinutes],
      notBeforeS: 60 * i * plan.everyMinutes,
    })),
  colour: (plan) =>
    patchesOf(plan).map((rgb, i) => ({
      ...still(plan, rgb),
      id: String(i + 1),
      place: `centre, patch ${i + 1}: ${rgb.join(' ')}`,
      instruction: i === 0 ? 'Put the instrument on the mark' : '',
      detail: 'It stays there; the patches follow in the order of the list.',
      row: rgb,
    })),
}

const still = ({ patch }: GuidedPlan, rgb: Rgb): Pick<GuidedStep, 'picture' | 'sensor' | 'row' | 'notBeforeS'> => ({
  picture: { x: CENTRE.x, y: CENTRE.y, rgb, ...patch },
  sensor: CENTRE,
  row: [],
  notBeforeS: 0,
})

/** Middles of equal fields, row by row from top left: 1/6, 3/6, 5/6 of width and height, or tenths. */
function uniformity(plan: GuidedPlan): GuidedStep[] {
  const side = Math.sqrt(plan.places)
  return Array.from({ length: plan.places }, (_, i) => {
    const [column, row] = [i % side, Math.floor(i / side)]
    const [x, y] = [(column + 0.5) / side, (row + 0.5) / side]
    const name = `${ROWS[plan.places][row]} ${COLUMNS[plan.places][column]}`
    return {
      ...still(plan, WHITE),
      id: String(i + 1),
      place: `${name} (${percent(x)} across, ${percent(y)} down)`,
      instruction: `Put the sensor on the ring: ${name}`,
      detail: `${percent(x)} of the width from the left, ${percent(y)} of the height from the top.`,
      // White on the whole screen, as the reading of uniformity is defined here.
      picture: { x, y, rgb: WHITE, sizePct: 100, surround: 255 },
      sensor: { x, y, degrees: 0 },
    }
  })
}

function strobing(plan: GuidedPlan): GuidedStep[] {
  return Object.entries(STROBE_PLACES).map(([place, y]) => ({
    ...still(plan, WHITE),
    id: place,
    place,
    instruction: `Put the sensor on the ring: ${place}`,
    detail: 'Middle of the width. The patch then steps between its two levels, at most three times a second.',
    picture: { x: 0.5, y, rgb: WHITE, ...plan.patch },
    sensor: { x: 0.5, y, degrees: 0 },
  }))
}

function angles(plan: GuidedPlan): GuidedStep[] {
  const [positive, negative] = plan.axis === 'horizontal' ? ['right', 'left'] : ['above', 'below']
  const all = [...new Set([0, ...plan.angles])]
  return all.map((degrees) => {
    const side = degrees > 0 ? positive : negative
    const from = plan.axis === 'horizontal' ? `from the ${side}` : `from ${side}`
    return {
      ...still(plan, WHITE),
      id: String(degrees),
      place: `${plan.axis}, ${degrees}°`,
      instruction:
        degrees === 0
          ? 'Aim the meter straight at the ring: 0°'
          : `Aim the meter at the ring ${from}: ${Math.abs(degrees)}°`,
      detail: 'Angle from the normal. Keep the spot on the patch and the distance as it was, and focus again.',
      sensor: { ...CENTRE, degrees },
      row: [degrees],
    }
  })
}

/** What a person types where no instrument is read; empty where a person cannot read it off. */
export function fieldsOf({ sequence }: GuidedPlan): readonly { readonly quantity: string; readonly unit: string }[] {
  if (sequence === 'strobing' || sequence === 'flicker') return []
  const unit = 'cd/m²'
  return sequence === 'colour'
    ? ['X', 'Y', 'Z'].map((quantity) => ({ quantity, unit }))
    : [{ quantity: 'luminance', unit }]
}
