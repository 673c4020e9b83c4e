import { sha256 } from '@noble/hashes/sha2.js'
import { bytesToHex, utf8ToBytes } from '@noble/hashes/utils.js'
import { z } from 'zod'

const fraction = z.number().min(0).max(1)

/** Ripple handling before anything is measured. */
const conditionSchema = z.discriminatedUnion('kind', [
  z.strictObject({ kind: z.literal('none') }),
  /** Divide by the periodic backlight waveform, phase-locked to the record. */
  z.strictObject({ kind: z.literal('divide'), frequencyHz: z.number().min(20).max(100_000).nullable() }),
  /** Mean over whole ripple periods; null = detected. */
  z.strictObject({
    kind: z.literal('one-period-mean'),
    frequencyHz: z.number().min(20).max(100_000).nullable(),
    periods: z.int().min(1).max(50),
  }),
  z.strictObject({
    kind: z.literal('low-pass'),
    shape: z.enum(['one-pole', 'bessel-2', 'bessel-4', 'butterworth-2', 'butterworth-4']),
    cutoffHz: z.number().min(1).max(5_000_000),
    phase: z.enum(['zero', 'causal']),
  }),
  z.strictObject({ kind: z.literal('savitzky-golay'), points: z.int().min(5).max(501), order: z.int().min(2).max(4) }),
])

const levelsSchema = z.discriminatedUnion('kind', [
  /** Mean or median over declared windows: the share of the pre-edge record used before, and the tail share of the dwell after. */
  z.strictObject({
    kind: z.literal('windows'),
    statistic: z.enum(['mean', 'median']),
    beforeShare: fraction.min(0.05),
    afterShare: fraction.min(0.02),
  }),
  z.strictObject({ kind: z.literal('histogram'), bins: z.int().min(4).max(4096), statistic: z.enum(['mode', 'mean']) }),
  z.strictObject({ kind: z.literal('ladder') }),
])

const bandSchema = z.discriminatedUnion('kind', [
  z.strictObject({ kind: z.literal('percent'), percent: z.number().min(0.1).max(40) }),
  z.strictObject({ kind: z.literal('codes'), codes: z.number().min(0.1).max(64) }),
  /** CIE 1976 L*, white being the highest level of the ladder. */
  z.strictObject({ kind: z.literal('lightness'), lightness: z.number().min(0.05).max(40) }),
])

export const recipeSchema = z.strictObject({
  name: z.string().trim().min(1).max(80),
  note: z.string().max(500).default(''),
  /** What the parameters follow, if anything published. */
  follows: z.string().max(300).default(''),
  condition: conditionSchema.default({ kind: 'none' }),
  levels: levelsSchema.default({ kind: 'windows', statistic: 'mean', beforeShare: 0.6, afterShare: 0.2 }),
  ordinate: z.enum(['luminance', 'code', 'lightness']).default('luminance'),
  duration: z
    .discriminatedUnion('kind', [
      /** Between p and 100−p percent of the step. */
      z.strictObject({ kind: z.literal('percent'), percent: z.number().min(0.5).max(45) }),
      /** Between leaving the start band and entering the end band of ±codes. */
      z.strictObject({ kind: z.literal('codes'), codes: z.number().min(0.5).max(64) }),
      /** The same with bands of ±L*. */
      z.strictObject({ kind: z.literal('lightness'), lightness: z.number().min(0.2).max(40) }),
    ])
    .default({ kind: 'percent', percent: 10 }),
  /** Half width of the start band (onset) and the end band (arrival, settling). */
  startBand: bandSchema.default({ kind: 'percent', percent: 3 }),
  endBand: bandSchema.default({ kind: 'percent', percent: 3 }),
  inWindow: z
    .strictObject({ of: z.enum(['settling', 'arrival']), tolerancePct: z.number().min(0).max(50) })
    .default({ of: 'settling', tolerancePct: 0 }),
  /** Span of the integrated error from onset, s; null = to the end of the record. */
  errorSpanS: z.number().min(0.0001).max(20).nullable().default(null),
  /** Detector's own 10–90 % duration, s; null = unknown. */
  detectorS: z.number().min(1e-8).max(0.1).nullable().default(null),
  /** Remove the detector's duration by root-sum-square where the ratio allows it. */
  correctDetector: z.boolean().default(false),
  /** Both levels at or under this code count as a dark step. */
  darkCode: z.int().min(0).max(255).default(102),
  /** Overshoot above this counts in the share over the limit, %. */
  overshootLimitPct: z.number().min(0).max(1000).default(5),
})
export type Recipe = z.infer<typeof recipeSchema>

/** Stable text of a value: object keys sorted, so that the same parameters always hash alike. */
export function canonicalJson(value: unknown): string {
  if (Array.isArray(value)) return `[${value.map(canonicalJson).join(',')}]`
  if (value !== null && typeof value === 'object') {
    const entries = Object.entries(value).filter(([, v]) => v !== undefined)
    entries.sort(([a], [b]) => (a < b ? -1 : 1))
    return `{${entries.map(([k, v]) => `${JSON.stringify(k)}:${canonicalJson(v)}`).join(',')}}`
  }
  return JSON.stringify(value)
}

/** First 16 hex digits of SHA-256 over the parameters. Name, note and citation do not count: they change no number. */
export function recipeHash(recipe: Recipe): string {
  const { name: _name, note: _note, follows: _follows, ...parameters } = recipe
  return bytesToHex(sha256(utf8ToBytes(canonicalJson(parameters)))).slice(0, 16)
}

export const RECIPE_PRESETS: readonly Recipe[] = [
  {
    name: '10–90 % of luminance',
    follows: 'IEEE Std 181 transition duration with its default reference levels (clause numbers from memory)',
  },
  {
    name: 'Band of ±2 L*',
    note: 'Needs a ladder that ends at the brightest level the display shows.',
    follows: 'CIE 1976 lightness (ISO/CIE 11664-4, from memory); the half width is a choice, not a standard',
    ordinate: 'lightness',
    duration: { kind: 'lightness', lightness: 2 },
    startBand: { kind: 'lightness', lightness: 2 },
    endBand: { kind: 'lightness', lightness: 2 },
  },
  {
    name: 'Settling within 2 %',
    startBand: { kind: 'percent', percent: 2 },
    endBand: { kind: 'percent', percent: 2 },
    follows: 'State boundaries of ±2 % as in IEEE Std 181 (from memory)',
  },
].map((recipe) => recipeSchema.parse(recipe))

export const DEFAULT_RECIPE = RECIPE_PRESETS[0] as Recipe
