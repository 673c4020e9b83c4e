interface Term {
  readonly words: string
  /** Repeats of a capture average it. */
  readonly averages: boolean
  /** What makes it smaller. */
  readonly remedy: string
}

/** What makes up an uncertainty. */
const TERMS = {
  noise: { words: 'Noise', averages: true, remedy: 'More light on the detector, or a smaller range.' },
  // Where a signal bends one way the line is off to one side, wherever the samples fall.
  interpolation: { words: 'Line between samples', averages: false, remedy: 'A higher sample rate.' },
  ripple: { words: 'Ripple left', averages: true, remedy: 'A recipe with the mean over one ripple period.' },
  hum: { words: 'Hum left', averages: true, remedy: 'A shielded cable, or power from a battery.' },
  drift: { words: 'Drift', averages: false, remedy: 'A longer warm-up.' },
  tail: { words: 'Unfinished tail', averages: false, remedy: 'A longer dwell.' },
  rounding: { words: 'Converter step', averages: false, remedy: 'A smaller range, or more bits.' },
  levels: {
    words: 'How levels are taken',
    averages: false,
    remedy: 'A recipe that takes levels as the mean over a window.',
  },
  ladder: { words: 'Ladder', averages: false, remedy: 'A ladder of more levels, densest where these are.' },
  detector: { words: 'Detector', averages: false, remedy: 'A faster detector.' },
  conditioning: {
    words: 'Mean over ripple',
    averages: false,
    remedy: 'A recipe that divides by the ripple, or a steadier backlight.',
  },
  decision: { words: 'Excursion near the band', averages: true, remedy: 'A wider end band, or less noise.' },
} as const satisfies Record<string, Term>
export type TermName = keyof typeof TERMS
export const NAMES = Object.keys(TERMS) as TermName[]
export const WORDS = NAMES.map((name) => TERMS[name].words)
export const AVERAGES = NAMES.map((name) => TERMS[name].averages)
export const INDEX = Object.fromEntries(NAMES.map((name, i) => [name, i])) as Record<TermName, number>

const REMEDIES: ReadonlyMap<string, string> = new Map(Object.values(TERMS).map(({ words, remedy }) => [words, remedy]))
/** What makes a named term smaller; empty for one that is not named here. */
export const remedyOf = (words: string): string => REMEDIES.get(words) ?? ''

/** Places of what is left in the trace among the squares. */
export const LEFT_TERMS = (['ripple', 'hum', 'drift', 'tail'] as const).map((kind) => ({ kind, at: INDEX[kind] }))
