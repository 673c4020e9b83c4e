/** The detector in front of the display: bandwidth, offset, gain and hum; its noise and the converter's, per record. */
import type { Simulation } from '#shared/domain/rig.ts'
import type { Display } from '../panel/display.ts'
import { addFlicker, addWhite, whiteDensity } from './detector-noise.ts'
import { poleOf, seenLight } from './detector.ts'
import { addHum, addNoise, random, type Random } from './noise.ts'

export interface Photodiode {
  readonly whiteV: number
  readonly darkV: number
  readonly detectorHz: number
  readonly humV: number
  readonly humPhase: number
  /** White noise of the converter, V rms. */
  readonly noiseV: number
  /** Photocurrent at white, A; with it come shot and thermal noise. */
  readonly photocurrentA: number
  /** 1/f noise at 1 Hz, V/√Hz. */
  readonly flickerV: number
  readonly seed: number
}

export function photodiodeOf(simulation: Simulation): Photodiode {
  const { whiteV, darkV, detectorHz, humV, noiseV, photocurrentA, flickerV, seed } = simulation
  const humPhase = 2 * Math.PI * random(seed, 50)()
  return { whiteV, darkV, detectorHz, humV, noiseV, photocurrentA, flickerV, seed, humPhase }
}

/** Time constants on the path: the detector's, and the input filter's if one is on. */
function polesOf(photodiode: Photodiode, filterHz: number | null): number[] {
  return [poleOf(photodiode.detectorHz), ...(filterHz === null ? [] : [poleOf(filterHz)])]
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
  const poles = polesOf(photodiode, filterHz)
  const out = display ? seenLight(display, poles, startS, stepS, count) : new Float64Array(count)
  for (let i = 0; i < count; i++) out[i] = darkV + (whiteV - darkV) * (out[i] as number)
  addHum(out, photodiode.humV, photodiode.humPhase, startS, stepS)
  return out
}

/**
 * Adds a detector's noise to its noise-free volts, in place: shot, thermal and 1/f noise, through the same bandwidth as
 * the light.
 */
export function addDetectorNoise(
  photodiode: Photodiode,
  samples: Float64Array,
  stepS: number,
  filterHz: number | null,
  source: Random,
): void {
  const { whiteV, darkV, photocurrentA, flickerV } = photodiode
  const spanV = whiteV - darkV
  const poles = polesOf(photodiode, filterHz)
  const density = whiteDensity(photocurrentA, spanV)
  // The light of each sample before its own noise is added: only sample i is read, and only before it is changed.
  addWhite(samples, (i) => (samples[i]! - darkV) / spanV, density, poles, stepS, source)
  addFlicker(samples, flickerV * flickerV, poles, stepS, source)
}

/**
 * Noise of one record: the detector's, then the converter's, which nothing limits. The same seed and record number always
 * give the same. `path` is null where the input is cut off from the detector.
 */
export function addRecordNoise(
  photodiode: Photodiode,
  samples: Float64Array,
  record: number,
  path: { readonly stepS: number; readonly filterHz: number | null } | null,
): void {
  const source = random(photodiode.seed, 77, record)
  if (path) addDetectorNoise(photodiode, samples, path.stepS, path.filterHz, source)
  addNoise(samples, photodiode.noiseV, source)
}
