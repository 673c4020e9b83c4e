/** Recordings as an oscilloscope saves them, all invented, and the ways a person brings them to a page. */
import { mkdir, writeFile } from 'node:fs/promises'
import { join } from 'node:path'
import type { Locator } from 'playwright/test'

export interface Recording {
  readonly name: string
  readonly text: string
}

/** Time constant of the invented response, s: 10–90 % of it last τ · ln 9. */
export const TAU_S = 0.004

export interface Style {
  readonly delimiter?: ',' | ';'
  readonly decimal?: '.' | ','
  readonly timeColumn?: boolean
  readonly tauS?: number
  readonly samples?: number
}

/** A first-order step at 20 kS/s with a header, time 0 at the edge. */
export function recording(name: string, from: number, to: number, style: Style = {}): Recording {
  const { delimiter = ',', decimal = '.', timeColumn = true, tauS = TAU_S, samples = 4000 } = style
  const number = (value: number): string => value.toPrecision(8).replace('.', decimal)
  let state = from * 256 + to
  const [low, high] = [0.02 + from / 80, 0.02 + to / 80]
  const rows = Array.from({ length: samples }, (_, i) => {
    const t = (i - 800) / 20_000
    // A little reproducible noise (a linear congruential generator), so that plateaus look like plateaus.
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0
    const noise = 0.003 * (state / 2 ** 32 - 0.5)
    const volts = (t < 0 ? low : high + (low - high) * Math.exp(-t / tauS)) + noise
    return timeColumn ? number(t) + delimiter + number(volts) : number(volts)
  })
  const title = timeColumn ? `Time (s)${delimiter}CH1 (V)` : 'CH1 (V)'
  return { name, text: ['Invented recording', title, ...rows].join('\r\n') }
}

export const PDF: Recording = { name: 'report.pdf', text: '%PDF-1.7\n\0\u0001\u0002binary\0\n%%EOF' }

/** Writes recordings into a folder; answers with their paths. */
export async function saved(folder: string, files: readonly Recording[]): Promise<string[]> {
  await mkdir(folder, { recursive: true })
  return Promise.all(
    files.map(async ({ name, text }) => {
      const path = join(folder, name)
      await writeFile(path, text)
      return path
    }),
  )
}

/** Drags files over an element and drops them there, as the system does it. */
export async function dropFiles(target: Locator, paths: readonly string[]): Promise<void> {
  const box = await target.boundingBox()
  if (box === null) throw new Error('There is nothing to drop the files on.')
  const session = await target.page().context().newCDPSession(target.page())
  const where = { x: box.x + box.width / 2, y: box.y + box.height / 2 }
  const data = { items: [], files: [...paths], dragOperationsMask: 1 }
  for (const type of ['dragEnter', 'dragOver', 'drop'] as const)
    await session.send('Input.dispatchDragEvent', { type, ...where, data })
  await session.detach()
}
