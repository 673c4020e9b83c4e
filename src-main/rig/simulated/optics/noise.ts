/** Seeded randomness: sfc32 (Chris Doty-Humphrey, public domain; from memory) and Box–Muller Gaussians. */

export type Random = () => number

/** Uniform numbers in [0, 1); the same words always give the same sequence. */
export function random(...words: readonly number[]): Random {
  let a = 0x9e3779b9 ^ (words[0] ?? 0)
  let b = 0x243f6a88 ^ (words[1] ?? 0)
  let c = 0xb7e15162 ^ (words[2] ?? 0)
  let counter = 1
  const next = (): number => {
    const t = (((a + b) | 0) + counter) | 0
    counter = (counter + 1) | 0
    a = b ^ (b >>> 9)
    b = (c + (c << 3)) | 0
    c = (c << 21) | (c >>> 11)
    c = (c + t) | 0
    return (t >>> 0) / 4294967296
  }
  for (let i = 0; i < 16; i++) next()
  return next
}

/** Adds white Gaussian noise of a standard deviation to every sample, in place. */
export function addNoise(samples: Float64Array, sd: number, source: Random): void {
  if (sd <= 0) return
  for (let i = 0; i < samples.length; i += 2) {
    const radius = sd * Math.sqrt(-2 * Math.log(1 - source()))
    const angle = 2 * Math.PI * source()
    samples[i] = (samples[i] as number) + radius * Math.cos(angle)
    if (i + 1 < samples.length) samples[i + 1] = (samples[i + 1] as number) + radius * Math.sin(angle)
  }
}

/** Adds mains hum (50 Hz, peak amplitude) in place. */
export function addHum(samples: Float64Array, peak: number, phase: number, startS: number, stepS: number): void {
  if (peak === 0) return
  for (let i = 0; i < samples.length; i++)
    samples[i] = (samples[i] as number) + peak * Math.sin(2 * Math.PI * 50 * (startS + i * stepS) + phase)
}
