/** Outside programs that tests look at the measuring with: Debian's python3-scipy and ngspice. */
import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import type { RawTrace } from '#shared/domain/capture.ts'

const HERE = dirname(fileURLToPath(import.meta.url))
/** Debian's interpreter: another Python first on the path need not have scipy. */
export const PYTHON = process.env['SLEWLIGHT_PYTHON'] ?? '/usr/bin/python3'

function works(command: string, args: string[]): boolean {
  const run = spawnSync(command, args, { stdio: 'ignore', timeout: 60_000 })
  return run.status === 0
}

/** Whether a tool can be used; prints why not, and throws instead where everything is required. */
function available(what: string, packageName: string, probe: () => boolean): boolean {
  if (probe()) return true
  const reason = `${what} is not installed (Debian: apt-get install ${packageName})`
  if (process.env['SLEWLIGHT_REQUIRE_ALL'] === '1') throw new Error(`${reason}, and SLEWLIGHT_REQUIRE_ALL=1.`)
  console.log(`Skipped: ${reason}.`)
  return false
}

export const hasScipy = (): boolean =>
  available('scipy', 'python3-scipy', () => works(PYTHON, ['-c', 'import numpy, scipy.signal']))
export const hasNgspice = (): boolean => available('ngspice', 'ngspice', () => works('ngspice', ['--version']))

export interface StepJob {
  readonly kind: 'step'
  readonly rate: number
  readonly beforeShare: number
  readonly afterShare: number
  readonly statistic?: 'mean' | 'median'
  readonly percent: number
  readonly band: number
  readonly refresh: number | null
  /** Also study noise, drift and ripple of both plateaus. */
  readonly plateaus?: boolean
  /** Also fit the Gaussian edge. */
  readonly gaussian?: boolean
  /** Repeats when timed. */
  readonly runs?: number
}
/** What the default recipe does with a record at 50 kS/s of a display at 60 Hz. */
export const DEFAULT_STEP: StepJob = {
  kind: 'step',
  rate: 50_000,
  beforeShare: 0.6,
  afterShare: 0.2,
  percent: 10,
  band: 3,
  refresh: 60,
}
export interface PeriodicJob {
  readonly kind: 'periodic'
  readonly rate: number
  readonly pst?: boolean
}
export interface CodeJob {
  readonly kind: 'code'
  readonly ladderLevels: readonly number[]
  readonly ladderVolts: readonly number[]
}
export type ReferenceJob = StepJob | PeriodicJob | CodeJob

/** Volts of a trace, as double precision. */
export function voltsOf(trace: RawTrace): Float64Array {
  return Float64Array.from(trace.samples, (sample) => sample * trace.scaleV + trace.offsetV)
}

/**
 * Runs the Python reference, or the vectorised program that skips no step, on jobs and their samples; with `timed`,
 * answers seconds per measurement instead.
 */
export function runReference(
  jobs: readonly { job: ReferenceJob; values: Float64Array }[],
  timed = false,
  program: 'reference.py' | 'vectorised.py' = 'reference.py',
): Record<string, number | number[] | null>[] {
  const folder = mkdtempSync(join(tmpdir(), 'slewlight-reference-'))
  try {
    const manifest = jobs.map(({ job, values }, i) => {
      const file = join(folder, `${i}.f64`)
      writeFileSync(file, new Uint8Array(values.buffer, values.byteOffset, values.byteLength))
      return { ...job, file }
    })
    const path = join(folder, 'manifest.json')
    writeFileSync(path, JSON.stringify(manifest))
    const args = [join(HERE, program), ...(timed ? ['--time'] : []), path]
    const threads = { OPENBLAS_NUM_THREADS: '1', OMP_NUM_THREADS: '1', PYTHONDONTWRITEBYTECODE: '1' }
    const run = spawnSync(PYTHON, args, {
      encoding: 'utf8',
      maxBuffer: 1 << 30,
      timeout: 300_000,
      env: { ...process.env, ...threads },
    })
    if (run.status !== 0) throw new Error(`${program} failed: ${run.stderr}`)
    return JSON.parse(run.stdout) as Record<string, number | number[] | null>[]
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}

export interface SpiceRun {
  /** ngspice's own readings by their names in the netlist. */
  readonly readings: Readonly<Record<string, number>>
  readonly values: Float64Array
  readonly rateHz: number
}

/** Simulates a netlist of this folder and reads back ngspice's own measurements and its evenly sampled waveform. */
export function runSpice(netlist: string): SpiceRun {
  const folder = mkdtempSync(join(tmpdir(), 'slewlight-ngspice-'))
  try {
    const output = join(folder, 'wave.txt')
    const source = join(folder, 'circuit.cir')
    writeFileSync(source, readFileSync(join(HERE, netlist), 'utf8').replace('OUTPUT', output))
    const run = spawnSync('ngspice', ['-b', source], { encoding: 'utf8', timeout: 60_000 })
    const readings: Record<string, number> = {}
    for (const [, name, value] of run.stdout.matchAll(/^(\w+)\s+=\s+(-?[\d.]+e[+-]\d+)/gm))
      if (name !== undefined) readings[name] = Number(value)
    const rows = readFileSync(output, 'utf8').trim().split('\n').slice(1)
    const values = new Float64Array(rows.length)
    let first = 0
    let last = 0
    rows.forEach((row, i) => {
      const [time = Number.NaN, value = Number.NaN] = row.trim().split(/\s+/).map(Number)
      if (i === 0) first = time
      last = time
      values[i] = value
    })
    return { readings, values, rateHz: Math.round((rows.length - 1) / (last - first)) }
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}
