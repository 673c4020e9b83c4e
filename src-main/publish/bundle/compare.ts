/** Published text and data beside the same made again. */
import { PUBLISHED_DIGITS } from '#shared/findings/campaign/published.ts'
import type { Add } from './read.ts'

/**
 * Two programs of the same version may differ in the last digits, since elementary functions differ between runtimes;
 * anything more is another number.
 */
const RELATIVE = 1e-9

export const same = (a: number, b: number): boolean =>
  a === b || Math.abs(a - b) <= RELATIVE * Math.max(Math.abs(a), Math.abs(b))

/** Of numbers that were rounded to `PUBLISHED_DIGITS`: alike, or as near as rounding the other way brings them. */
const sameRounded = (a: number, b: number): boolean =>
  a === b || Math.abs(a - b) <= 1e-4 * 10 ** (Math.floor(Math.log10(Math.abs(b))) + 1 - PUBLISHED_DIGITS)

export interface Difference {
  /** Where: `points[3].figures.duration_mean.value`, or a piece of the text. */
  readonly place: string
  readonly published: string
  readonly again: string
}

/** Differences of two JSON values, by path. */
export function differences(published: unknown, again: unknown, path = ''): Difference[] {
  if (typeof published === 'number' && typeof again === 'number')
    return sameRounded(published, again) ? [] : [difference(path, published, again)]
  if (Array.isArray(published) && Array.isArray(again)) {
    const length = Math.max(published.length, again.length)
    return Array.from({ length }, (_, i) => differences(published[i], again[i], `${path}[${i}]`)).flat()
  }
  if (isRecord(published) && isRecord(again)) {
    const keys = [...new Set([...Object.keys(published), ...Object.keys(again)])]
    return keys.flatMap((key) => differences(published[key], again[key], path === '' ? key : `${path}.${key}`))
  }
  return published === again ? [] : [difference(path, published, again)]
}

const difference = (place: string, published: unknown, again: unknown): Difference => ({
  place,
  published: shown(published),
  again: shown(again),
})
const shown = (value: unknown): string => (value === undefined ? 'nothing' : JSON.stringify(value))
const isRecord = (value: unknown): value is Record<string, unknown> =>
  typeof value === 'object' && value !== null && !Array.isArray(value)

const NUMBER = /(-?\d+(?:\.\d+)?(?:e[+-]?\d+)?)/
/** Numbers of a text with so many digits are coordinates that nobody rounded: they may differ in the last ones. */
const UNROUNDED_DIGITS = 12
const AROUND = 60

/** The first place where two texts differ; null when they do not. */
function textDifference(published: string, again: string): Difference | null {
  if (published === again) return null
  const [a, b] = [published.split(NUMBER), again.split(NUMBER)]
  let before = ''
  for (let i = 0; i < Math.max(a.length, b.length); i++) {
    const [left = '', right = ''] = [a[i], b[i]]
    const alike = left === right || (i % 2 === 1 && isUnrounded(left) && isUnrounded(right) && same(+left, +right))
    if (!alike) {
      const at = i % 2 === 1 ? 0 : firstDifference(left, right)
      const start = Math.max(0, at - AROUND / 2)
      return {
        place: `after “${(before + left.slice(0, at)).slice(-AROUND).replaceAll(/\s+/g, ' ')}”`,
        published: left.slice(start === 0 ? 0 : at).slice(0, AROUND),
        again: right.slice(start === 0 ? 0 : at).slice(0, AROUND),
      }
    }
    before = (before + left).slice(-AROUND)
  }
  return null
}

const isUnrounded = (number: string): boolean =>
  number.replace(/e.*$/, '').replaceAll(/\D/g, '').replace(/^0+/, '').length >= UNROUNDED_DIGITS

function firstDifference(a: string, b: string): number {
  let at = 0
  while (at < a.length && a[at] === b[at]) at++
  return at
}

/** Tells the first difference of two texts; answers whether there is one. */
export function compareTexts(file: string, published: string, again: string, add: Add): boolean {
  const found = textDifference(published, again)
  if (found === null) return false
  add(file, found.place, `Published “${found.published}”, drawn again “${found.again}”.`)
  return true
}
