import { mkdirSync, renameSync, statSync } from 'node:fs'
import { join } from 'node:path'
import { pino } from 'pino'
import type { Log } from '#main/core/ports.ts'

const ROTATE_BYTES = 5 * 1024 * 1024

/**
 * A log of one JSON object a line in `folder`/slewlight.log; the file of before is kept once it has grown large.
 * A folder that cannot be written costs the log, not the program: lines then go to standard error.
 */
export function openLog(folder: string): Log {
  const logger = pino({ base: null, timestamp: pino.stdTimeFunctions.isoTime }, destinationIn(folder))
  return {
    info: (message, detail) => logger.info(detail ?? {}, message),
    warn: (message, detail) => logger.warn(detail ?? {}, message),
    error: (message, detail) => logger.error(detail ?? {}, message),
  }
}

function destinationIn(folder: string): ReturnType<typeof pino.destination> {
  try {
    mkdirSync(folder, { recursive: true })
    const path = join(folder, 'slewlight.log')
    if ((statSync(path, { throwIfNoEntry: false })?.size ?? 0) > ROTATE_BYTES) renameSync(path, `${path}.old`)
    return pino.destination({ dest: path, sync: true })
  } catch (error) {
    process.stderr.write(`The log cannot be written to ${folder}: ${String(error)}\n`)
    return pino.destination({ dest: 2, sync: true })
  }
}
