/**
 * The ten kinds of defect planted in a simulated archive, how strong they are planted, and which flags count as finding
 * them. A strength below its range is not called a defect: a careful technician would not see it in the trace.
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
  /** Any of these on the capture counts as having found it. */
  readonly flags: readonly FlagId[]
}

export const KINDS: Readonly<Record<DefectKind, KindInfo>> = {
  clipped: {
    planted: 'the input’s rail cuts off the top 2–40 % of the record’s span',
    flags: ['clipped'],
  },
  drifted: {
    planted: 'an even drift of the detector’s offset by 6–40 % of the step over the record, either way',
    flags: ['plateau-drift'],
  },
  'double-step': {
    planted:
      'the display shows a level 30–70 % of the way for whole frames, as many as make the pause 1–4 times the sound ' +
      '10–90 % duration (at least 1 frame and 1 ripple period), then goes on',
    flags: ['double-step'],
  },
  'short-dwell': {
    planted: 'the record ends while 3–20 % of the step is still to come (or to come back from an overshoot)',
    flags: ['plateau-not-reached'],
  },
  hum: {
    planted:
      'mains pick-up at 50, 60, 100 or 120 Hz of 1–10 % of the step peak to peak, at a line that the refresh rate does not explain',
    flags: ['hum'],
  },
  'dropped-samples': {
    planted:
      'one third each: the last value held for 25–1500 samples; a block of 64–1000 samples delivered twice; or samples ' +
      'cut out of the step itself, so that time jumps over 10–60 % of the step',
    flags: ['missing-samples'],
  },
  'wrong-pair': {
    planted: 'the display showed another level of the ladder before or after the step, never the same on both sides',
    flags: ['ladder-disagrees'],
  },
  'dropped-frame': {
    planted:
      'the edge comes one or two frames late although the stimulus reports a clean switch; bus-triggered sweeps only, ' +
      'since with a level trigger the edge itself starts the clock',
    flags: ['edge-out-of-frame'],
  },
  saturation: {
    planted:
      'the detector gives only 0–60 % of what light adds above a knee, so that the brighter level reads 4–30 % low; no rail is touched',
    flags: ['saturation', 'ladder-disagrees'],
  },
  outlier: {
    planted: 'the transition takes 1.15–2 times as long or as short as its repeats',
    flags: ['differs-from-repeats'],
  },
}
