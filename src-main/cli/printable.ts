/** Control and direction characters, which a terminal would obey instead of showing; line ends and tabs stay. */
// oxlint-disable-next-line no-control-regex
const OBEYED = /[\0-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]/g

/** Text from files and people as it may be printed: what a terminal would obey is written as its code. */
export function printable(text: string): string {
  return text.replace(OBEYED, codeOf)
}

/** The same on one line. */
export function printableLine(text: string): string {
  return printable(text).replace(/[\t\n]/g, codeOf)
}

function codeOf(character: string): string {
  return `\\u${character.charCodeAt(0).toString(16).padStart(4, '0')}`
}
