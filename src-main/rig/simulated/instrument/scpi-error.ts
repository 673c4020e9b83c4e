/** Error numbers and texts of SCPI-1999 Volume 2, 21.8 (from memory, checked against public instrument sources). */
export const ERROR_TEXTS = {
  0: 'No error',
  [-101]: 'Invalid character',
  [-102]: 'Syntax error',
  [-103]: 'Invalid separator',
  [-104]: 'Data type error',
  [-108]: 'Parameter not allowed',
  [-109]: 'Missing parameter',
  [-111]: 'Header separator error',
  [-112]: 'Program mnemonic too long',
  [-113]: 'Undefined header',
  [-114]: 'Header suffix out of range',
  [-121]: 'Invalid character in number',
  [-123]: 'Exponent too large',
  [-124]: 'Too many digits',
  [-131]: 'Invalid suffix',
  [-138]: 'Suffix not allowed',
  [-141]: 'Invalid character data',
  [-148]: 'Character data not allowed',
  [-151]: 'Invalid string data',
  [-158]: 'String data not allowed',
  [-161]: 'Invalid block data',
  [-168]: 'Block data not allowed',
  [-178]: 'Expression data not allowed',
  [-200]: 'Execution error',
  [-211]: 'Trigger ignored',
  [-213]: 'Init ignored',
  [-214]: 'Trigger deadlock',
  [-221]: 'Settings conflict',
  [-222]: 'Data out of range',
  [-224]: 'Illegal parameter value',
  [-225]: 'Out of memory',
  [-230]: 'Data corrupt or stale',
  [-231]: 'Data questionable',
  [-240]: 'Hardware error',
  [-310]: 'System error',
  [-350]: 'Queue overflow',
  [-363]: 'Input buffer overrun',
  [-410]: 'Query INTERRUPTED',
  [-420]: 'Query UNTERMINATED',
  [-430]: 'Query DEADLOCKED',
  [-440]: 'Query UNTERMINATED after indefinite response',
} as const satisfies Record<number, string>
export type ScpiErrorCode = keyof typeof ERROR_TEXTS

/** Thrown while a message is parsed or executed; ends in the error queue. */
export class ScpiError extends Error {
  readonly code: ScpiErrorCode
  readonly info: string
  constructor(code: ScpiErrorCode, info = '') {
    super(ERROR_TEXTS[code])
    this.name = 'ScpiError'
    this.code = code
    this.info = info
  }
}

/** Standard event status bit of an error number (IEEE 488.2 11.5.1, SCPI-1999 21.8.4). */
export function eventBit(code: number): number {
  if (code > 0 || (code <= -300 && code > -400)) return 1 << 3
  if (code <= -100 && code > -200) return 1 << 5
  if (code <= -200 && code > -300) return 1 << 4
  if (code <= -400 && code > -500) return 1 << 2
  return 0
}
