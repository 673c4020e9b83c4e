/** Syntax of IEEE 488.2 chapter 7 and SCPI-1999 Volume 1 chapters 6 and 7: one program message unit at a time. */
import { ScpiError } from './scpi-error.ts'

export type Parameter =
  | { readonly kind: 'number'; readonly value: number; readonly unit: string }
  | { readonly kind: 'word'; readonly text: string }
  | { readonly kind: 'string'; readonly text: string }
  | { readonly kind: 'block' }
  | { readonly kind: 'expression' }

export interface HeaderNode {
  /** Mnemonic in capitals without its numeric suffix. */
  readonly name: string
  /** 1 when none was written. */
  readonly suffix: number
}

export interface ProgramUnit {
  readonly common: boolean
  /** Starts with a colon: counted from the root. */
  readonly absolute: boolean
  readonly nodes: readonly HeaderNode[]
  readonly query: boolean
  readonly parameters: readonly Parameter[]
  readonly text: string
}

/** White space; the input has made blanks of the control characters that IEEE 488.2 counts as such. */
const BLANK = /^ +/
const HEADER = /^(\*)?(:)?([A-Za-z]\w*)((?::[A-Za-z]\w*)*)(\?)?/
const NUMBER = /^[+-]?(?:\d+\.?\d*|\.\d+)(?: *[eE] *([+-]?\d+))?/
const UNIT = /^[A-Za-z][\w./-]*/
const WORD = /^[A-Za-z]\w*/
const CODED = /^#(?:[hH]([0-9a-fA-F]+)|[qQ]([0-7]+)|[bB]([01]+))/
const MNEMONIC_LIMIT = 12

/** Cuts a message at the semicolons that stand outside of strings and blocks. */
export function splitUnits(message: string): string[] {
  const units: string[] = []
  let start = 0
  let quote = ''
  for (let i = 0; i < message.length; i++) {
    const c = message.charAt(i)
    if (quote !== '') {
      if (c === quote) quote = ''
    } else if (c === '"' || c === "'") quote = c
    else if (c === '#') i += blockLength(message, i) - 1
    else if (c === ';') {
      units.push(message.slice(start, i))
      start = i + 1
    }
  }
  units.push(message.slice(start))
  return units
}

/** Characters a definite block at a place takes, 1 when there is none. */
function blockLength(text: string, at: number): number {
  const digits = Number(/^#([1-9])/.exec(text.slice(at, at + 2))?.[1] ?? 0)
  const length = text.slice(at + 2, at + 2 + digits)
  return digits > 0 && length.length === digits && /^\d+$/.test(length) ? 2 + digits + Number(length) : 1
}

/** Null for an empty unit, which IEEE 488.2 lets stand between semicolons. Throws ScpiError of the −100 class. */
export function parseUnit(text: string): ProgramUnit | null {
  let rest = text.replace(BLANK, '')
  if (rest === '') return null
  if (/[\x80-\xff]/.test(rest)) throw new ScpiError(-101)
  const header = HEADER.exec(rest)
  if (!header || (header[1] !== undefined && (header[2] !== undefined || header[4] !== '')))
    throw new ScpiError(-102, quoted(rest))
  const [whole, star, colon, first = '', others = '', mark] = header
  rest = rest.slice(whole.length)
  if (rest !== '' && !BLANK.test(rest)) throw new ScpiError(/^[,\w?:*]/.test(rest) ? -111 : -102, quoted(text))
  const nodes = [first, ...others.split(':').slice(1)].map(nodeOf)
  return {
    common: star !== undefined,
    absolute: colon !== undefined,
    nodes,
    query: mark !== undefined,
    parameters: parseParameters(rest.replace(BLANK, '')),
    text: text.trim(),
  }
}

function nodeOf(text: string): HeaderNode {
  const [, name = text, digits = ''] = /^(.*?[A-Za-z_])(\d*)$/.exec(text) ?? []
  if (name.length > MNEMONIC_LIMIT) throw new ScpiError(-112, quoted(text))
  return { name: name.toUpperCase(), suffix: digits === '' ? 1 : Number(digits) }
}

function parseParameters(text: string): Parameter[] {
  const parameters: Parameter[] = []
  let rest = text
  if (rest === '') return parameters
  for (;;) {
    const [parameter, length] = parseParameter(rest)
    parameters.push(parameter)
    rest = rest.slice(length).replace(BLANK, '')
    if (rest === '') return parameters
    if (!rest.startsWith(',')) throw new ScpiError(-103, quoted(rest))
    rest = rest.slice(1).replace(BLANK, '')
    if (rest === '') throw new ScpiError(-109)
  }
}

function parseParameter(text: string): [Parameter, number] {
  const first = text.charAt(0)
  if (first === '"' || first === "'") return parseString(text, first)
  if (first === '#') return parseHash(text)
  if (first === '(') {
    const end = text.indexOf(')')
    if (end < 0) throw new ScpiError(-102, quoted(text))
    return [{ kind: 'expression' }, end + 1]
  }
  const word = WORD.exec(text)
  if (word) return [{ kind: 'word', text: word[0].toUpperCase() }, word[0].length]
  if (/^[+\-.\d]/.test(first)) return parseNumber(text)
  throw new ScpiError(-102, quoted(text))
}

function parseString(text: string, quote: string): [Parameter, number] {
  let value = ''
  for (let i = 1; i < text.length; i++) {
    if (text.charAt(i) !== quote) value += text.charAt(i)
    else if (text.charAt(i + 1) === quote) {
      value += quote
      i += 1
    } else return [{ kind: 'string', text: value }, i + 1]
  }
  throw new ScpiError(-151)
}

function parseHash(text: string): [Parameter, number] {
  const coded = CODED.exec(text)
  if (coded) {
    const [whole, hex, octal, binary] = coded
    const value = hex ? Number.parseInt(hex, 16) : octal ? Number.parseInt(octal, 8) : Number.parseInt(binary ?? '', 2)
    return [{ kind: 'number', value, unit: '' }, whole.length]
  }
  const length = blockLength(text, 0)
  if (length > 1 && length <= text.length) return [{ kind: 'block' }, length]
  throw new ScpiError(/^#\d/.test(text) ? -161 : -121, quoted(text))
}

function parseNumber(text: string): [Parameter, number] {
  const match = NUMBER.exec(text)
  if (!match) throw new ScpiError(-121, quoted(text))
  if (Math.abs(Number(match[1] ?? 0)) > 32_000) throw new ScpiError(-123)
  if ((/\d+/.exec(match[0].replace('.', ''))?.[0].length ?? 0) > 255) throw new ScpiError(-124)
  let length = match[0].length
  const blanks = BLANK.exec(text.slice(length))?.[0].length ?? 0
  const unit = UNIT.exec(text.slice(length + blanks))
  if (unit) length += blanks + unit[0].length
  else if (/^[+\-.#"']/.test(text.slice(length))) throw new ScpiError(-121, quoted(text))
  return [{ kind: 'number', value: Number(match[0].replaceAll(' ', '')), unit: unit?.[0].toUpperCase() ?? '' }, length]
}

function quoted(text: string): string {
  return text.trim().slice(0, 40)
}
