/** The detector in front of the display: bandwidth, offset, gain and hum; noise is added per record. */
import type { Simulation } from '#shared/domain/rig.ts'
import type { Display } from '../panel/display.ts'
import { poleOf, seenLight } from './detector.ts'
import { addHum, addNoise, random } from './noise.ts'

export interface Photodiode {
  readonly whiteV: number
  readonly darkV: number
  readonly detectorHz: number
  readonly humV: number
  readonly humPhase: number
  readonly noiseV: number
  readonly seed: number
}

export function photodiodeOf(simulation: Simulation): Photodiode {
  const { whiteV, darkV, detectorHz, humV, noiseV, seed } = simulation
  return { whiteV, darkV, detectorHz, humV, noiseV, seed, humPhase: 2 * Math.PI * random(seed, 50)() }
}

/** Volts without noise: darkV + (whiteV − darkV)·light + hum, through the input filter if one is on. */
export function voltsOf(
  photodiode: Photodiode,
  display: Display | null,
  startS: number,
  stepS: number,
  count: number,
  filterHz: number | null,
): Float64Array {
  const { whiteV, darkV } = photodiode
  const poles = [poleOf(photodiode.detectorHz), ...(filterHz === null ? [] : [poleOf(filterHz)])]
  const out = display ? seenLight(display, poles, startS, stepS, count) : new Float64Array(count)
  for (let i = 0; i < count; i++) out[i] = darkV + (whiteV - darkV) * (out[i] as number)
  addHum(out, photodiode.humV, photodiode.humPhase, startS, stepS)
  return out
}

/** Noise of one record; the same seed and record number always give the same. */
export function addRecordNoise(photodiode: Photodiode, samples: Float64Array, record: number): void {
  addNoise(samples, photodiode.noiseV, random(photodiode.seed, 77, record))
}
