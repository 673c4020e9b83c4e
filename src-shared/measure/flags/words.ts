/** Numbers as evidence sentences write them. */
export const ms = (seconds: number): string => `${(seconds * 1e3).toPrecision(3)} ms`
export const pct = (value: number): string => `${value.toPrecision(2)} %`
export const volts = (value: number): string =>
  Math.abs(value) < 1 ? `${(value * 1e3).toPrecision(3)} mV` : `${value.toPrecision(4)} V`
