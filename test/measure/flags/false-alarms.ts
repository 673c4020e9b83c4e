/**
 * `npm run false-alarms [records]`: sound records under white noise, noise through one pole of 1–10 kHz, and 1/f noise
 * (see ../sound.ts), 2,000 of each without an argument. Prints how many carry a flag, a ripple, or an overshoot beyond
 * twice its uncertainty, and which flags they are.
 */
import { pathToFileURL } from 'node:url'
import type { Result } from '#shared/domain/result.ts'
import { NOISE_KINDS, soundRecord, type NoiseKind } from '../sound.ts'
import { ladderOf, measure } from '../waves.ts'

export interface Alarms {
  readonly records: number
  readonly flagged: number
  readonly ripple: number
  /** Overshoots beyond twice their standard uncertainty, where the truth is none. */
  readonly overshoot: number
  readonly flags: Readonly<Record<string, number>>
  /** What the flags say. */
  readonly evidence: readonly string[]
}

function measureSound(kind: NoiseKind, seed: number): Result {
  const { trace, from, to, white, dark, refreshHz } = soundRecord(kind, seed)
  const ladder = ladderOf([51, 102, 153, 204, 255], { white, dark })
  return measure(trace, {}, { from, to, refreshHz, ladder })
}

export function alarmsOf(kind: NoiseKind, first: number, records: number): Alarms {
  const flags: Record<string, number> = {}
  const evidence: string[] = []
  let [flagged, ripple, overshoot] = [0, 0, 0]
  for (let seed = first; seed < first + records; seed++) {
    const result = measureSound(kind, seed)
    if (result.flags.length > 0) flagged++
    for (const id of new Set(result.flags.map((flag) => flag.id))) flags[id] = (flags[id] ?? 0) + 1
    evidence.push(...result.flags.map((flag) => `${kind}, record ${seed}: ${flag.id}: ${flag.evidence}`))
    if (result.values.ripple_frequency_hz !== null) ripple++
    if ((result.values.overshoot_pct ?? 0) > 2 * (result.uncertainties.overshoot_pct ?? Infinity)) overshoot++
  }
  return { records, flagged, ripple, overshoot, flags, evidence }
}

if (process.argv[1] !== undefined && import.meta.url === pathToFileURL(process.argv[1]).href) {
  const records = Number(process.argv[2] ?? 2000)
  if (!Number.isInteger(records) || records < 1) throw new Error('npm run false-alarms [records]')
  for (const kind of NOISE_KINDS) {
    const { flagged, ripple, overshoot, flags, evidence } = alarmsOf(kind, 10_001, records)
    const list = Object.entries(flags).map(([id, count]) => `${id} ${count}`)
    console.log(
      `${kind}: ${records} sound records, ${flagged} flagged (${((100 * flagged) / records).toFixed(2)} %), ` +
        `${ripple} with a ripple, ${overshoot} with an overshoot beyond 2u; ${list.join(', ') || 'no flag'}`,
    )
    for (const text of evidence) console.log(`  ${text}`)
  }
}
