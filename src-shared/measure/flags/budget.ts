/**
 * One budget of false alarms for a record, and every constant of the detectors that is not derived from it.
 *
 * A sound record is flagged with a chance of at most `ALPHA`. Every detector takes a stated share of that (Bonferroni:
 * right for any dependence between them), divides it by the places it searches, and gets its limit from the law its
 * statistic follows where nothing is wrong. What is left to say by hand is physical: how large a fault has to be to
 * matter, and what such faults look like.
 */
import { studentTUpper } from '../../signal/distributions.ts'

/** Chance that a sound record is flagged: ten of a thousand by design. */
export const ALPHA = 0.01

/** Shares of the budget, and the law of each statistic where nothing is wrong. They add up to 1. */
export const SHARES = {
  /** A line in the plateaus' spectra: F(2, 20) of eleven tapers, over all places of up to five spectra. */
  line: 0.2,
  /** A mains frequency: F(2, 2m) against m frequencies beside it, at four lines. */
  hum: 0.1,
  /** Change through a plateau or the record: Student's t, by the noise's correlation. */
  drift: 0.2,
  /** Level the end of the dwell leads to: Student's t. */
  tail: 0.15,
  /** Levels against the ladder: Student's t. */
  ladder: 0.1,
  /** Speeds within the step: largest difference of as many normal variables. */
  pause: 0.1,
  /** Crossings of the step's middle: reach of a correlated normal series by its crossing rate. */
  crossings: 0.05,
  /** Samples held or repeated: chance of equal codes; cut out: largest of as many differences; phase: Student's t. */
  lost: 0.1,
} as const
export type Share = keyof typeof SHARES

/** Chance of a false alarm that a detector may have in one record, shared over the `tests` it makes. */
export const chanceOf = (share: Share, tests = 1): number => (ALPHA * SHARES[share]) / tests

const reaches = new Map<number, number>()

/**
 * Standard uncertainties that a difference exceeds either way with the given chance: Student's t, two-sided, degrees of
 * freedom rounded down to two digits (Infinity: normal).
 */
export function reachOf(chance: number, dof = Infinity): number {
  const digits = 10 ** (Math.floor(Math.log10(Math.max(1, dof))) - 1)
  const whole = Number.isFinite(dof) && dof < 1e4 ? Math.max(1, Math.floor(dof / digits) * digits) : Infinity
  const key = whole === Infinity ? -chance : whole + chance
  let reach = reaches.get(key)
  if (reach === undefined) {
    reach = studentTUpper(chance / 2, whole)
    if (reaches.size > 4096) reaches.clear()
    reaches.set(key, reach)
  }
  return reach
}

/** Constants that are not derived, each with its unit and reason; `DEVELOPERS.md` shows the same table. */
export const PHYSICAL = {
  stepOverNoise: [20, 'σ', 'step over noise: a 10–90 % duration is then read to about 2 % of itself'],
  stepOverLsb: [100, 'LSB', 'step over the converter’s own: overshoot is then known to 1 % of the step'],
  samples: [
    10,
    'samples',
    '10–90 % duration: interpolation between samples then costs at most 1 % of it (first order, worst phase)',
  ],
  overDetector: [5, '×', '10–90 % duration over the detector’s: up to here root-sum-square removes it within 1.5 %'],
  biasPct: [1, '%', 'lengthening of a duration by the recipe’s own conditioning'],
  driftPct: [2, '%', 'change through a window a level is read from, of the step: two thirds of the default band'],
  recordDriftPct: [4, '%', 'even change through the whole record, of the step: half of it lies between the two levels'],
  leftDriftPct: [
    1,
    '%',
    'the same from which a drift is said to be left in the trace; noise that wanders does as much',
  ],
  driftAgreement: [0.5, '', 'share by which parts of a record may differ that is said to drift evenly'],
  tailPct: [1, '%', 'what the end of the dwell still leads to, of the step; the recipe’s band where that is narrower'],
  ladderPct: [3, '%', 'level against the ladder, of its light: the default band'],
  ladderApart: [1e5, '×', 'time from ladder to capture over what a level is read from, for 1/f noise: hours'],
  ladderSpan: [0.002, '', 'the same as a share of the ladder’s span: near black 3 % of next to nothing is none'],
  humPct: [0.5, '%', 'mains pick-up peak to peak, of the step: what overshoot is still known to'],
  humAgreement: [0.35, '', 'share by which hum may differ between the plateaus: it adds to the light'],
  humGain: [0.1, '', 'conditioning that leaves less than this of a line has taken it out'],
  saturationLight: [0.2, '', 'light, of the ladder’s brightest, under which no detector is expected to saturate'],
  saturationGain: [0.015, '', 'share by which lamp and detector differ between ladder and capture'],
  saturationSame: [0.85, '', 'a darker level that lost this part of the brighter one’s share lost it to less light'],
  saturationLeast: [0.001, '', 'smallest loss that can be detected, of the ladder’s brightest'],
  pauseShare: [0.5, '', 'speed of a pause over the speeds before and after it: one response has one fastest instant'],
  pulsePauseShare: [0.6, '', 'the same from pulse to pulse, where nothing is smeared'],
  ringing: [
    1.5,
    '×',
    'swing back over the square of the overshoot before it, up to which a response rings (second order: 1)',
  ],
  pauseLeast: [0.15, '', 'least share of the step on either side of a pause'],
  jumpShare: [0.05, '', 'least jump that counts as lost samples, of the step'],
  jumpSlope: [4, '×', 'jump over the steepest change from sample to sample around it'],
  jumpStays: [0.7, '', 'part of a jump by which the means on either side differ: a spike comes back'],
  phaseTurns: [0.08, 'periods', 'least jump of a backlight’s phase: sampling moves the edges of pulses by less'],
  leastBlock: [32, 'samples', 'instruments deliver blocks, not handfuls of samples'],
  leastDither: [0.7, 'LSB', 'noise under which equal samples are nothing strange'],
  leftTimes: [
    0.01,
    '',
    'standard uncertainty by what is left in the trace, of a time: half of the 2 % that are said to matter',
  ],
  leftPoints: [0.25, 'points', 'the same of a share of the step: half of the 0.5 points that are said to matter'],
  frames: [2, 'frames', 'refresh periods after which overdrive is over'],
  edgeFrames: [1, 'frames', 'the light edge belongs to the frame of its trigger'],
  unknownFrame: [0.02, 's', 'the same where the refresh rate is not known'],
} as const satisfies Readonly<Record<string, readonly [value: number, unit: string, why: string]>>

/** The values of PHYSICAL by name. */
export const LIMITS = Object.fromEntries(Object.entries(PHYSICAL).map(([name, [value]]) => [name, value])) as {
  readonly [name in keyof typeof PHYSICAL]: number
}
