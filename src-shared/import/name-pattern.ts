/** A person's own pattern for file names, such as `{from}_{to}_run{repeat}*`. */
import { pairFromName, repeatFromName } from './file-name.ts'

/** What a name tells: the levels before and after the change and the repeat number; null where it does not say. */
export interface NameReading {
  readonly from: number | null
  readonly to: number | null
  readonly repeat: number | null
}

export const NOTHING_READ: NameReading = { from: null, to: null, repeat: null }

export type NameReader = (name: string) => NameReading

/** Reads names as most people write them; see `pairFromName`. */
export const readPlainName: NameReader = (name) => {
  const pair = pairFromName(name)
  return { from: pair?.from ?? null, to: pair?.to ?? null, repeat: repeatFromName(name) }
}

const PLACES = { from: '(?<from>\\d{1,3})', to: '(?<to>\\d{1,3})', repeat: '(?<repeat>\\d{1,3})' } as const
type Place = keyof typeof PLACES

const isPlace = (word: string): word is Place => Object.hasOwn(PLACES, word)
const escaped = (text: string): string => text.replace(/[.*+?^${}()|[\]\\]/g, '\\$&')
const lastPart = (name: string): string => name.replace(/^.*[/\\]/, '')

/** Most runs of anything in one pattern: more make the search through a long name slow, and serve nobody. */
const MAX_STARS = 5

/**
 * The reader of a pattern, or what is wrong with it. `{from}` and `{to}` stand for the levels (0–255), `{repeat}` for
 * the repeat number, `*` for anything and `?` for one character; everything else stands for itself, in either case.
 * The pattern may match any part of a name, but never the middle of a number.
 */
export function readerOfPattern(pattern: string): NameReader | { readonly problem: string } {
  const parts = pattern.trim().split(/(\{[^}]*\}|\*+|\?)/)
  const seen = new Set<Place>()
  let source = ''
  let stars = 0
  for (const part of parts) {
    if (part === '') continue
    if (part.startsWith('*')) {
      stars += 1
      source += '.*?'
    } else if (part === '?') source += '.'
    else if (part.startsWith('{') && part.endsWith('}')) {
      const word = part.slice(1, -1).trim().toLowerCase()
      if (!isPlace(word)) return { problem: `${part} is not known; use {from}, {to} and {repeat}.` }
      if (seen.has(word)) return { problem: `{${word}} is there twice.` }
      seen.add(word)
      source += `(?<!\\d)${PLACES[word]}(?!\\d)`
    } else source += escaped(part)
  }
  if (!seen.has('from') || !seen.has('to')) return { problem: 'Both {from} and {to} are needed.' }
  if (stars > MAX_STARS) return { problem: `At most ${MAX_STARS} stars can be used.` }
  const expression = new RegExp(source, 'iu')
  return (name) => {
    const groups = expression.exec(lastPart(name).slice(0, 300))?.groups
    if (groups === undefined) return NOTHING_READ
    const [from, to] = [Number(groups['from']), Number(groups['to'])]
    if (from > 255 || to > 255 || from === to) return NOTHING_READ
    const repeat = Number(groups['repeat'] ?? 0)
    return { from, to, repeat: repeat >= 1 ? repeat : null }
  }
}
