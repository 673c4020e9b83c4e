/** One entry of the SCPI error queue: `<number>,"<text>[;<information>]"` (SCPI-1999 Volume 2, 21.8). */
export interface InstrumentError {
  readonly code: number
  /** The instrument's own words. */
  readonly text: string
}

/** Null when the text is no such entry. A doubled quote inside stands for one. */
export function parseInstrumentError(text: string): InstrumentError | null {
  const match = /^([+-]?\d{1,6})\s*,\s*"((?:[^"]|"")*)"$/.exec(text.trim())
  if (!match) return null
  const code = Number(match[1])
  if (code < -32_768 || code > 32_767) return null
  return { code: code === 0 ? 0 : code, text: (match[2] ?? '').replaceAll('""', '"') }
}

export function describeInstrumentError(error: InstrumentError): string {
  return `${error.code}, "${error.text}"`
}

/** Error classes by number (SCPI-1999 Volume 2, 21.8.4): which bit of *ESR? goes with it is the class's order. */
export type ErrorClass = 'none' | 'command' | 'execution' | 'device' | 'query' | 'event'
export function errorClass(code: number): ErrorClass {
  if (code === 0) return 'none'
  if (code > 0) return 'device'
  if (code <= -100 && code > -200) return 'command'
  if (code <= -200 && code > -300) return 'execution'
  if (code <= -300 && code > -400) return 'device'
  if (code <= -400 && code > -500) return 'query'
  return 'event'
}
