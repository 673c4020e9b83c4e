/** What makes up an uncertainty, and whether repeats of a capture average it. */
const TERMS = {
  noise: { words: 'Noise', averages: true },
  interpolation: { words: 'Line between samples', averages: true },
  ripple: { words: 'Ripple left', averages: true },
  hum: { words: 'Hum left', averages: true },
  drift: { words: 'Drift', averages: false },
  tail: { words: 'Unfinished tail', averages: false },
  rounding: { words: 'Converter step', averages: false },
  levels: { words: 'How levels are taken', averages: false },
  ladder: { words: 'Ladder', averages: false },
  detector: { words: 'Detector', averages: false },
  conditioning: { words: 'Mean over ripple', averages: false },
  decision: { words: 'Excursion near the band', averages: true },
} as const
export type TermName = keyof typeof TERMS
export const NAMES = Object.keys(TERMS) as TermName[]
export const WORDS = NAMES.map((name) => TERMS[name].words)
export const AVERAGES = NAMES.map((name) => TERMS[name].averages)
export const INDEX = Object.fromEntries(NAMES.map((name, i) => [name, i])) as Record<TermName, number>

/** Places of what is left in the trace among the squares. */
export const LEFT_TERMS = (['ripple', 'hum', 'drift', 'tail'] as const).map((kind) => ({ kind, at: INDEX[kind] }))
