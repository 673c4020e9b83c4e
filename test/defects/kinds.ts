/**
 * The ten kinds of defect planted in a simulated archive: how strong they are planted, which flag counts as finding
 * them and which other flags are true of them. Decided before any detector was tuned.
 *
 * Where a range begins. A defect is planted only when it does harm: duration, arrival or settling of the capture differ
 * from the same capture without it by more than 2 % of the duration, or overshoot by more than 0.5 points (or one of
 * them becomes undefined); for outliers the mean of the cell by 2 % of the duration (see matters.ts). Lost samples and
 * late frames are exempt: they are faults of the record wherever they lie. On top of that each kind has a least size,
 * below which it is what sound captures carry too (drift, mains pick-up, spread of repeats; see capture.ts).
 */
import type { FlagId } from '#shared/domain/result.ts'

export const DEFECT_KINDS = [
  'clipped',
  'drifted',
  'double-step',
  'short-dwell',
  'hum',
  'dropped-samples',
  'wrong-pair',
  'dropped-frame',
  'saturation',
  'outlier',
] as const
export type DefectKind = (typeof DEFECT_KINDS)[number]

export interface KindInfo {
  /** What happened to the capture, and how strongly. */
  readonly planted: string
  /** The flag that counts as having found it. */
  readonly flag: FlagId
  /** Flags of other kinds that are true of such a capture, and why. They are neither false nor found. */
  readonly alsoTrue: Partial<Readonly<Record<FlagId, string>>>
}

const CHANGES_DURATION = 'its duration truly differs'

export const KINDS: Readonly<Record<DefectKind, KindInfo>> = {
  clipped: {
    planted:
      'the input’s rail cuts off the top 2–40 % of the record’s span; from 2 % on, because less is within the noise of ' +
      'the smallest steps',
    flag: 'clipped',
    alsoTrue: {
      'ladder-disagrees': 'the level cut off reads low',
      'differs-from-repeats': CHANGES_DURATION,
    },
  },
  drifted: {
    planted:
      'an even drift of the detector’s offset by 6–40 % of the step over the record, either way; sound records drift by ' +
      'about 0.1 mV (1 σ) over the record, under 0.2 % of the smallest steps of steady light, up to 1.7 % of those of ' +
      'strobed light',
    flag: 'plateau-drift',
    alsoTrue: {
      'ladder-disagrees': 'the offset moves the levels',
      'differs-from-repeats': CHANGES_DURATION,
    },
  },
  'double-step': {
    planted:
      'the display shows a level 30–70 % of the way for whole frames, as many as make the pause 1–4 times the sound ' +
      '10–90 % duration (at least 2 ripple periods and 1 frame, with overdrive 2, the first of which is boosted and shows ' +
      'another level), then goes on',
    flag: 'double-step',
    alsoTrue: { 'differs-from-repeats': CHANGES_DURATION },
  },
  'short-dwell': {
    planted:
      'the record ends while 3–20 % of the step is still to come (or to come back from an overshoot); 3 % is the default ' +
      'end band',
    flag: 'plateau-not-reached',
    alsoTrue: {
      'plateau-drift': 'the end plateau truly moves',
      'ladder-disagrees': 'the end level is not reached',
      'differs-from-repeats': CHANGES_DURATION,
    },
  },
  hum: {
    planted:
      'mains pick-up at 50, 60, 100 or 120 Hz of 1–10 % of the step peak to peak, at a line that the refresh rate does ' +
      'not explain; sound records carry up to 0.2 mV, and no more than 0.35 % of the smallest step',
    flag: 'hum',
    alsoTrue: { 'differs-from-repeats': CHANGES_DURATION },
  },
  'dropped-samples': {
    planted:
      'one third each: the last value held for 25–1500 samples; a block of 64–1000 samples delivered twice; or samples ' +
      'cut out: in steady light over 10–60 % of the step itself (at least 15 σ and 8 samples), so that the trace jumps; ' +
      'in modulated light 25–1500 samples anywhere that the modulation is seen (15 σ), but no whole number of backlight ' +
      'periods (±0.1), which would leave no trace in the record',
    flag: 'missing-samples',
    alsoTrue: {
      'differs-from-repeats': CHANGES_DURATION,
      'edge-out-of-frame': 'samples missing or doubled before the edge put it elsewhere in the record',
    },
  },
  'wrong-pair': {
    planted: 'the display showed another level of the ladder before or after the step, never the same on both sides',
    flag: 'ladder-disagrees',
    alsoTrue: { 'differs-from-repeats': CHANGES_DURATION },
  },
  'dropped-frame': {
    planted:
      'the edge comes one or two frames late although the stimulus reports a clean switch; bus-triggered sweeps only, ' +
      'since with a level trigger the edge itself starts the clock. Changes no number of the capture; a frame is whole',
    flag: 'edge-out-of-frame',
    alsoTrue: {},
  },
  saturation: {
    planted:
      'the detector gives only 0–60 % of what light adds above a knee, so that the brighter level reads 4–30 % low; no ' +
      'rail is touched; levels from 153 up, since detectors saturate in bright light',
    flag: 'saturation',
    alsoTrue: {
      'ladder-disagrees': 'the brighter level reads low',
      'differs-from-repeats': CHANGES_DURATION,
    },
  },
  outlier: {
    planted: 'the transition takes 1.15–2 times as long or as short as its repeats, which spread by 0.3 % (1 σ)',
    flag: 'differs-from-repeats',
    alsoTrue: {
      'plateau-not-reached': 'slowed down, the tail of a slow panel lasts to the end of the dwell',
      'plateau-drift': 'the same tail',
    },
  },
}

/** What a flag on a capture with this planted defect (null: sound) says about a kind whose flag it is. */
export function judge(flag: FlagId, planted: DefectKind | null): 'found' | 'true' | 'false' {
  if (planted === null) return 'false'
  const { flag: own, alsoTrue } = KINDS[planted]
  return flag === own ? 'found' : flag in alsoTrue ? 'true' : 'false'
}
