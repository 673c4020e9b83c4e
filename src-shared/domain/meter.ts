/** A luminance meter or power analyser to be asked for one number. */
import { z } from 'zod'
import { AppError } from './errors.ts'

export const meterSchema = z.discriminatedUnion('kind', [
  z.strictObject({
    kind: z.literal('serial'),
    path: z.string().min(1).max(300),
    baudRate: z.int().min(300).max(12_000_000).default(9600),
  }),
  z.strictObject({
    kind: z.literal('tcp'),
    host: z.string().min(1).max(253),
    port: z.int().min(1).max(65_535),
  }),
])
export type Meter = z.infer<typeof meterSchema>

/** What a meter answered: the number, and who it says it is. */
export interface MeterReading {
  readonly value: number
  readonly identity: string
}

/** Port of SCPI over plain TCP: registered with IANA as scpi-raw. */
const SCPI_PORT = 5025

/** `tcp://HOST:PORT`, or a serial port with its rate after a comma: `/dev/ttyUSB0,9600`. @throws AppError `invalid-input`. */
export function meterAt(text: string): Meter {
  const tcp = /^tcp:\/\/([A-Za-z0-9.-]+)(?::(\d{1,5}))?$/.exec(text.trim())
  const [path = '', rate] = text.trim().split(',')
  const parsed = meterSchema.safeParse(
    tcp === null
      ? { kind: 'serial', path, ...(rate === undefined ? {} : { baudRate: Number(rate) }) }
      : { kind: 'tcp', host: tcp[1], port: tcp[2] === undefined ? SCPI_PORT : Number(tcp[2]) },
  )
  if (parsed.success) return parsed.data
  throw new AppError(
    'invalid-input',
    `“${text}” does not say where the meter is.`,
    'Write tcp://HOST:PORT, or a serial port with its rate such as /dev/ttyUSB0,9600.',
  )
}
