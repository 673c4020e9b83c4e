/** What a file's name tells about the capture in it. */

/** Parts of names that hold numbers but no levels: dates, times, quantities with a unit, repeat and attempt numbers. */
const NOISE = [
  /\d{4}[-_.]\d{1,2}[-_.]\d{1,2}/g,
  /(?<!\d)\d{8}(?!\d)/g,
  /(?<!\d)\d{1,2}[h:]\d{2}(?:[m:]\d{2})?(?!\d)/g,
  /(?<![a-z\d])\d+(?:[.,]\d+)?\s?(?:hz|khz|mhz|ns|us|µs|ms|s|mv|v|w|c|°c|pct|%|k|px|fps)(?![a-z\d])/gi,
  // `scope_0-255` names a pair, `scope_12_0-255` and `scope12` a counter.
  /(?<![a-z])(?:repeat|rep|attempt|run|r|a|n|no|nr|ch|channel|scope|tek|trace|capture|sweep|file)(?:-?#?\d+|[_ ]#?\d+(?!\d|-\d{1,3}(?![\d-])))(?!\d)/gi,
  /#\d+/g,
]

const ARROW = /(?<!\d)(\d{1,3})\s*[-_ ]?\s*(?:->|→|>|to|bis)\s*[-_ ]?\s*(\d{1,3})(?!\d)/i
const NEIGHBOURS = /(?<!\d)(\d{1,3})[-_ ,]+(?=(\d{1,3})(?!\d))/g

const level = (text: string | undefined): number | null =>
  text !== undefined && Number(text) <= 255 ? Number(text) : null

function baseName(name: string): string {
  return name.replace(/^.*[/\\]/, '').replace(/\.[a-z]{1,4}$/i, '')
}

/** Two different levels 0–255 in a name, such as `0-255`, `0_to_255` or `51→0`; null when there are none or several pairs. */
export function pairFromName(name: string): { from: number; to: number } | null {
  const clean = NOISE.reduce((text, pattern) => text.replace(pattern, ' | '), baseName(name))
  const arrow = ARROW.exec(clean)
  const pairs = arrow
    ? [{ from: level(arrow[1]), to: level(arrow[2]) }]
    : [...clean.matchAll(NEIGHBOURS)].map((match) => ({ from: level(match[1]), to: level(match[2]) }))
  const [pair] = pairs
  if (pairs.length !== 1 || !pair || pair.from === null || pair.to === null || pair.from === pair.to) return null
  return { from: pair.from, to: pair.to }
}

/** Repeat number in a name, such as `r2` or `repeat-2`; null when there is none. */
export function repeatFromName(name: string): number | null {
  const match = /(?<![a-z])(?:repeat|rep|r)[-_ ]?(\d{1,3})(?!\d)/i.exec(baseName(name))
  const value = Number(match?.[1] ?? 0)
  return value >= 1 ? value : null
}
